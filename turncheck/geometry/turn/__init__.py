"""The turn: whether one solid body explains all drawings of a sheet, and which placing does not.

`solve_turn` takes arrays and returns a `Turn`; nothing here reads files.

- `observability`: which sets of views give depth, decided beforehand
- `adjustment`: observation equations, normal equations, Gauss-Newton steps
- `robust_start`: a start that bad placings do not spoil
- `misreading`: mirrored drawings, exchanged left and right names, both at once
- `fit`: the solution, without the placings that do not fit
- `diagnosis`: which placing is the bad one
- `deciding`: which further drawing would tell
- `solve`: px and degrees in, `Turn` out
- `turn`: the result
"""

from turncheck.geometry.turn.deciding import deciding_yaw
from turncheck.geometry.turn.observability import depth_outlook
from turncheck.geometry.turn.solve import solve_turn
from turncheck.geometry.turn.turn import NOBODY, ONE_AMONG, Misreading, Reading, Turn

__all__ = [
    "NOBODY",
    "ONE_AMONG",
    "Misreading",
    "Reading",
    "Turn",
    "deciding_yaw",
    "depth_outlook",
    "solve_turn",
]
