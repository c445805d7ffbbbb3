"""Left and right the wrong way round: of the names, of the drawings, or front and back exchanged.

Two things can be seen in a drawing without anything being solved. Its left points stand on the
picture's right in front and on its left behind, and at the far side are hidden; what lies further
forward in any body lies where it faces. Each is a vote of the points, and they have to agree.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from turncheck.geometry.measurement import Measurement
from turncheck.geometry.turn import Misreading
from turncheck.mistakes.slip import Slip, does, named
from turncheck.numerics.angles import wrapped
from turncheck.numerics.arrays import Floats
from turncheck.plain import capital

#: Points vote that lie this far apart, % of the figure height; common practice, no source.
VOTE_APART_LEAST = 2.0
#: Cosine or sine of a yaw from which on it says on which side something lies; common practice,
#: no source.
TELLS_FROM = 0.5
#: Pairs that have to vote, and the share of them that has to agree; common practice, no source.
VOTES_LEAST = 2
VOTES_AGREE_LEAST = 0.8
#: Pairs of which one is hidden, on the same side and no fewer than half, that tell the far one;
#: common practice, no source.
HIDDEN_LEAST = 3
#: Degrees within which two drawings are each other's opposite; common practice, no source.
OPPOSITE_WITHIN = 15.0
#: What is placed in front alone, or hidden behind.
FACE = ("eye_l", "eye_r", "nose_tip", "mouth")


@dataclass(frozen=True)
class Sides:
    """What the points of a drawing say.

    Attributes
    ----------
    named, faces
        Whether left and right names stand where they should, and whether it faces the way that its
        yaw says: 1 yes, -1 no, 0 not told.
    """

    named: int
    faces: int

    @property
    def misreading(self) -> Misreading:
        """How the drawing is to be read."""
        if self.faces < 0:
            return Misreading.BOTH if self.named < 0 else Misreading.MIRRORED
        return Misreading.SWAPPED if self.named < 0 else Misreading.NONE


def sides_of(measured: Measurement, v: int) -> Sides:
    """Read a drawing's sides off its points."""
    yaw = np.radians(measured.sheet.views[measured.views[v]].yaw)
    across, ahead = float(np.cos(yaw)), float(np.sin(yaw))
    facing = _vote(_ahead(measured, v), 1, 1.0)
    faces = int(facing * np.sign(ahead)) if abs(ahead) >= TELLS_FROM else 0
    if abs(across) >= TELLS_FROM:
        apart = [measured.x[v, left] - measured.x[v, right] for left, right in measured.pairs]
        pairs = _percent(measured, v, apart)
        return Sides(_vote(pairs * np.sign(across), VOTES_LEAST), faces)
    if abs(ahead) < TELLS_FROM:
        return Sides(0, faces)
    return Sides(_far(measured, v) * (facing or int(np.sign(ahead))), faces)


def find_sides(measured: Measurement) -> Iterator[Slip]:
    """Yield what is the wrong way round, in the fewest words that explain all drawings."""
    sides = {name: sides_of(measured, v) for v, name in enumerate(measured.views)}
    named_wrong = [name for name, one in sides.items() if one.named < 0]
    faces_wrong = [name for name, one in sides.items() if one.faces < 0]
    wrong = {name: one for name, one in sides.items() if name in {*named_wrong, *faces_wrong}}
    if not wrong:
        return
    all_named = len(named_wrong) > 1 and all(one.named <= 0 for one in sides.values())
    all_facing = bool(faces_wrong) and all(one.faces <= 0 for one in sides.values())
    some_right = any(one.named > 0 for one in sides.values())
    if all_named and all_facing:
        yield _mirrored(tuple(sides))
    elif (
        not faces_wrong
        and _are_opposite(measured, named_wrong)
        and (some_right or _face_is_behind(measured, named_wrong))
    ):
        yield _front_and_back(tuple(named_wrong))
    elif all_named and not faces_wrong:
        yield _names(measured, tuple(named_wrong))
    elif all_facing and not named_wrong:
        yield _facing(measured, tuple(faces_wrong))
    elif named_wrong and faces_wrong and not any(1 in (s.named, s.faces) for s in wrong.values()):
        yield _flipped(measured, tuple(wrong))
    else:
        for how, tell in _ALONE.items():
            views = tuple(name for name, one in sides.items() if one.misreading is how)
            if views:
                yield tell(measured, views)


def _ahead(measured: Measurement, v: int) -> Floats:
    """Return how far what is ahead in any body lies to the picture's right, % of the figure.

    Of a pair only both together tell: feet point outward.
    """
    apart: dict[tuple[str, str], list[float]] = {}
    for pair in measured.sheet.vocabulary.ahead:
        columns = measured.columns(*pair)
        difference = np.nan
        if len(columns) == 2:
            difference = float(measured.x[v, columns[0]] - measured.x[v, columns[1]])
        stems = tuple(name.removesuffix("_l").removesuffix("_r") for name in pair)
        apart.setdefault((stems[0], stems[1]), []).append(difference)
    return _percent(measured, v, [float(np.mean(both)) for both in apart.values()])


def _far(measured: Measurement, v: int) -> int:
    """Return which side is the far one, 1 the left, by what is hidden of most pairs; 0 if none."""
    placed = [pair for pair in measured.pairs if np.isfinite(measured.x[v, pair]).all()]
    hidden = measured.hidden[v, placed].astype(int).reshape(-1, 2)
    alone = hidden[:, 0] - hidden[:, 1]
    told = abs(int(alone.sum()))
    agree = told == np.abs(alone).sum() and told >= max(HIDDEN_LEAST, len(placed) / 2)
    return int(np.sign(alone.sum())) if agree else 0


def _percent(measured: Measurement, v: int, px: Iterable[float]) -> Floats:
    return np.array(list(px), float) * 100.0 / (measured.figure_height * measured.size(v))


def _vote(apart: Floats, least: int, agree: float = VOTES_AGREE_LEAST) -> int:
    """Return the sign that enough of those agree on which are far enough from 0; 0 if none."""
    votes = np.sign(apart[np.abs(np.nan_to_num(apart)) >= VOTE_APART_LEAST])
    if len(votes) < least:
        return 0
    sign = int(np.sign(votes.sum()))
    return sign if (votes == sign).mean() >= agree else 0


def _are_opposite(measured: Measurement, views: list[str]) -> bool:
    """Whether of two drawings one is as far from the front as the other is from behind."""
    yaws = [measured.sheet.views[name].yaw for name in views]
    return len(yaws) == 2 and abs(wrapped(sum(yaws) - 180.0)) < OPPOSITE_WITHIN


def _face_is_behind(measured: Measurement, views: list[str]) -> bool:
    """Whether of two drawings the one from behind shows more of a face, by its points."""
    columns = measured.columns(*FACE)
    seen = (np.isfinite(measured.x) & ~measured.hidden)[:, columns].sum(axis=1)
    front, back = sorted(views, key=lambda name: abs(measured.sheet.views[name].yaw))
    return bool(seen[measured.views.index(front)] < seen[measured.views.index(back)])


def _mirrored(views: tuple[str, ...]) -> Slip:
    return Slip(
        "mirrored",
        f"Every drawing looks mirrored, its points with it ({named(views)}): flip the drawings "
        "and their points back, or, if they are meant so, exchange _l and _r and turn the sign "
        "of each yaw",
        views,
        Misreading.BOTH,
    )


def _front_and_back(views: tuple[str, ...]) -> Slip:
    return Slip(
        "front_and_back",
        f"{capital(named(views))} look exchanged: left and right stand the wrong way round in "
        "both and in no other drawing; exchange their files together with their points, or their "
        "yaws",
        views,
        Misreading.SWAPPED,
    )


def _names(measured: Measurement, views: tuple[str, ...]) -> Slip:
    mend = "exchange _l and _r in the names of the points"
    if set(views) <= set(measured.sheet.straight_on):  # alone, its mirror image looks the same
        mend += ", or flip the drawing back if it was flipped together with them"
    return Slip(
        "left_and_right",
        f"Left and right look exchanged on {named(views)}: _l is the character's own left, which "
        f"stands on the picture's right in front; {mend}",
        views,
        Misreading.SWAPPED,
    )


def _facing(measured: Measurement, views: tuple[str, ...]) -> Slip:
    mend = ", ".join(f"{-measured.sheet.views[view].yaw:g} on {named([view])}" for view in views)
    if not any(sides_of(measured, measured.views.index(view)).named for view in views):
        it = does(views, "it", "them")
        mend += f", or flip {it} back if {it} and the points were flipped together"
    return Slip(
        "facing",
        f"{capital(named(views))} {does(views, 'faces', 'face')} the other way than "
        f"{does(views, 'its yaw says', 'their yaws say')} (a positive yaw faces the "
        f"picture's right): set yaw = {mend}",
        views,
        Misreading.MIRRORED,
    )


def _flipped(_: Measurement, views: tuple[str, ...]) -> Slip:
    it = does(views, "it", "them")
    return Slip(
        "flipped",
        f"{capital(named(views))} {does(views, 'looks', 'look')} flipped, the points and their "
        f"names with {it}: flip {it} back together with the points, or exchange _l and _r there "
        "and turn the sign of the yaw",
        views,
        Misreading.BOTH,
    )


_ALONE = {
    Misreading.SWAPPED: _names,
    Misreading.MIRRORED: _facing,
    Misreading.BOTH: _flipped,
}
