"""How far off proposals lie on characters that were left out, with what is learned and without."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from sklearn.model_selection import GroupKFold

from turncheck.numerics.arrays import Bools, Floats, Ints
from turncheck.placing.learned.model import SITUATIONS, ShowModel
from turncheck.placing.learned.model_file import Share
from turncheck.placing.proposing import HINT_UP_TO
from turncheck.show.examples import Example, Shapes
from turncheck.show.fitting import fit

#: Most fits to see how near proposals lie on characters left out: with more characters, several
#: are left out at once. Common practice, no source, as are the next two.
FITS_MOST = 60
#: Fewer drawings that have both proposals don't tell which of them lies nearer.
PAIRS_LEAST = 5
#: A point's own doubt counts as much as that of all points together from so many drawings on.
OWN_FROM = 10


@dataclass(frozen=True)
class Misses:
    """Distances from the placings over situations, sheets and points, (3, S, N), % of the height.

    NaN where a point is not to be proposed: it is placed, or the sheet does not have it.

    Attributes
    ----------
    characters
        (S,) as `Shapes` has them.
    far
        Of what is learned without the character, at the ruled height where there is one.
    own
        The same at its own height.
    sd
        As the spaces say.
    before
        Of the proposals that rest on nothing learned, NaN where there is none.
    misfits
        (S,) how unlike the others each sheet's outlines are, see `ShapeSpace.misfit`.
    """

    characters: Ints
    far: Floats
    own: Floats
    sd: Floats
    before: Floats
    misfits: Floats

    def nearer(self, sheets: Bools) -> Bools:
        """Return where what is learned lies nearer on some sheets' average, (SITUATIONS, N)."""
        both = np.isfinite(self.before) & np.isfinite(self.far) & sheets[:, None]
        gain = np.where(both, self.before - self.far, 0.0).sum(axis=1)
        found: Bools = (gain > 0.0) | (both.sum(axis=1) < PAIRS_LEAST)
        return found

    def doubt(self) -> Floats:
        """Return by how much points lie further off than the spaces say, (SITUATIONS, N).

        NaN where none was measured.
        """
        there = np.isfinite(self.own)
        ratio = np.where(there, (self.own / self.sd) ** 2, 0.0)
        count = there.sum(axis=1)
        usual = ratio.sum(axis=(1, 2)) / np.maximum(there.sum(axis=(1, 2)), 1)
        own = (ratio.sum(axis=1) + OWN_FROM * usual[:, None]) / (count + OWN_FROM)
        return np.where(count > 0, np.sqrt(own), np.nan)

    def offered(self, doubt: Floats) -> Floats:
        """Return how far off the proposals lie that `mark` makes, (3, S, N), NaN where none.

        Whether what is learned speaks is decided for a character by the others alone, and so is
        how unlike them it may be.
        """
        sure = np.isfinite(self.far) & (self.sd * doubt[:, None] <= HINT_UP_TO)
        found = self.before.copy()
        for who in np.unique(self.characters):
            own = self.characters == who
            alone = np.isnan(self.before[:, own])
            alike = self.misfits[own] <= self.misfits[~own].max()
            speaks = alike[:, None] & sure[:, own] & (self.nearer(~own)[:, None] | alone)
            found[:, own] = np.where(speaks, self.far[:, own], self.before[:, own])
        return found


def measure_misses(show: Shapes, examples: Sequence[Example]) -> Misses:
    """Fit anew without each character, and see how far off its points are expected."""
    parts = GroupKFold(min(FITS_MOST, show.count))
    found = np.full((4, SITUATIONS, len(examples), len(show.points)), np.nan)
    misfits = np.zeros(len(examples))
    none = np.zeros((SITUATIONS, len(show.points)))
    for rest, out in parts.split(show.shapes, groups=show.characters):
        said = {"doubt": none, "nearer": none > 0, "hidden": none[0] > 0, "strangest": np.inf}
        model = ShowModel(show.points, **fit(show.only(rest)), **said)
        for s in out:
            found[:, :, s] = misses_of(model, show.shapes[s], show.outlines[s], examples[s])
            misfits[s] = model.outlines.misfit(show.outlines[s])
    far, own, sd, before = found
    return Misses(show.characters, far, own, sd, before, misfits)


def misses_of(model: ShowModel, shape: Floats, outlines: Floats, example: Example) -> Floats:
    """Return `far`, `own`, `sd` and `before` of one sheet as `Misses` has them, (4, 3, N).

    Parameters
    ----------
    shape, outlines
        (2 N,) and (O,) the sheet's, as `Shapes` has them.
    """
    far, own, sd, before = found = np.full((4, SITUATIONS, len(model.points)), np.nan)
    truth, told = shape.reshape(-1, 2), model.told_by_outlines(outlines)
    yaws = np.array([yaw for yaw, _ in model.points])
    for situation, proposed in enumerate(example.proposed):
        given = np.isin(yaws, example.steps[:situation])
        at, unsure = model.expected(told, np.where(given[:, None], truth, np.nan).ravel())
        for n in np.flatnonzero(~given & np.isfinite(truth[:, 0])):
            x, y = at[n] - truth[n]
            own[situation, n] = far[situation, n] = np.hypot(x, y)
            sd[situation, n] = unsure[n]
            other = proposed.get(model.points[n])
            if other is not None:
                across, up = other.x - truth[n, 0], other.y - truth[n, 1]
                before[situation, n] = np.hypot(across, up)
                if other.ruled:
                    far[situation, n] = np.hypot(x, up)
    return found / example.percent


def share_of(there: Floats, offered: Floats, before: Floats, silent: int, placed: str) -> Share:
    """Return the shares that lie near, of distances of any shape, NaN where there is no proposal.

    Parameters
    ----------
    there
        Finite where there is a point to be proposed.
    """
    with_it, without = (far[np.isfinite(far) & np.isfinite(there)] for far in (offered, before))
    return Share(
        placed=placed,
        points=int(np.isfinite(there).sum()),
        offered=len(with_it),
        within_1=_within(with_it, 1.0),
        within_2=_within(with_it, 2.0),
        before_offered=len(without),
        before_within_1=_within(without, 1.0),
        before_within_2=_within(without, 2.0),
        silent=silent,
    )


def _within(far: Floats, most: float) -> float | None:
    return round(100.0 * float((far <= most).mean()), 1) if len(far) else None
