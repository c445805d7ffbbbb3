"""How sure each placing is: what the sheet states, and what repeated placings say of it."""

import math
from dataclasses import dataclass

import numpy as np

from turncheck.numerics.arrays import Bools, Floats

#: A landmark behind another part is estimated, not seen: its placing is this much less certain;
#: common practice, no source.
HIDDEN_FACTOR = 2.0
#: Repeats (placings beyond the first of a landmark on a drawing) from which what they say
#: together replaces what the sheet states; common practice, no source.
POOL_REPEATS_LEAST = 8
#: Degrees of freedom that all landmarks' error weighs against a landmark's own; common practice,
#: no source: near what Smyth 2004 finds in data of his own, from memory.
SHARED_DOF = 4.0
#: How many times the usual error a repeat counts as at most among all, so that a slip of the hand
#: does not speak for every placing; common practice, no source.
SLIP_COUNTS_AS = 3.0
#: Standard uncertainty of a click on a screen of whole pixels, px: a rectangular distribution one
#: pixel wide (JCGM 100:2008, F.2.2.1).
CLICK_SD = 1.0 / math.sqrt(12.0)


@dataclass(frozen=True)
class PlacingSd:
    """How sure the placings of a sheet are.

    Attributes
    ----------
    px
        (V, N) standard uncertainty of the mean of all placings there, px of the drawing; NaN
        where there is none.
    dof
        (V, N) degrees of freedom that it rests on; infinite where it is stated.
    pct
        Of one placing of a landmark that is seen and has no repeats, % of the figure height.
    learned
        Whether `pct` comes from the repeats.
    """

    px: Floats
    dof: Floats
    pct: float
    learned: bool


def placing_sd(
    stated: float,
    percent_px: Floats,
    count: Floats,
    squares: Floats,
    axes: Floats,
    given: Floats,
    hidden: Bools,
) -> PlacingSd:
    """Learn how sure placings are from the repeats among them.

    A repeat that lies apart from the others counts as % of its drawing's figure height, one
    behind another part as `HIDDEN_FACTOR` times less. All together are the shared error; a
    landmark's own variance is drawn towards it by its degrees of freedom,
    s² = (d0 s0² + d s²) / (d0 + d) (Smyth 2004, Stat. Appl. Genet. Mol. Biol. 3:3). A repeat far
    beyond what is usual counts for its landmark whole, for the shared error as less. No error is
    learned to be less than a click's, or than what is stated where that is still less, as on a
    drawing of few pixels.

    Parameters
    ----------
    stated
        Standard uncertainty of one placing, % of the figure height.
    percent_px
        (V,) px of one per cent of the figure height on each drawing.
    count, squares
        (V, N) placings of a landmark, and the sum of their squared distances from their mean, px².
    axes
        (N,) along how many axes that was summed, each one a degree of freedom.
    given
        (V, N) px, of one placing where that was said of it, else NaN; nothing is learned there.
    hidden
        (V, N) whether it was placed behind another part.

    Examples
    --------
    >>> one = np.ones((1, 9))
    >>> found = placing_sd(0.15, np.array([10.0]), 2 * one, 18 * one, np.full(9, 2.0),
    ...                    np.nan * one, one < 0)
    >>> found.pct, found.px.round(2).max().item(), found.learned  # 3 px off their mean, each way
    (0.3, 2.12, True)
    """
    factor = np.where(hidden, HIDDEN_FACTOR, 1.0)
    placed, unknown = count > 0, np.isnan(given)
    repeats = np.where(placed & unknown, count - 1.0, 0.0)
    dofs = axes * repeats
    unit = percent_px[:, None] * factor
    apart = np.where(repeats > 0, squares / unit**2, 0.0)
    own_dof, own = dofs.sum(axis=0), apart.sum(axis=0)

    least = np.minimum(CLICK_SD / percent_px, stated)[:, None]  # % of the figure height
    learned = bool(repeats.sum() >= POOL_REPEATS_LEAST)
    shared, shared_dof = stated, math.inf
    if learned:
        shared = max(_pooled(apart[repeats > 0], dofs[repeats > 0], stated), float(least.min()))
        shared_dof = float(own_dof.sum())
    weight = SHARED_DOF / (SHARED_DOF + own_dof)
    variance = weight * shared**2 + own / (SHARED_DOF + own_dof)
    # Welch and Satterthwaite (JCGM 100:2008, G.4), of the two parts of the variance
    part = weight * shared**2 / variance
    with np.errstate(divide="ignore"):
        dof = 1.0 / (part**2 / shared_dof + (1.0 - part) ** 2 / np.maximum(own_dof, 1.0))

    percent = np.sqrt(variance) * np.ones_like(count)
    percent = np.where(learned | (own_dof > 0), np.maximum(percent, least), percent)
    px = np.where(unknown, percent * unit, given)
    with np.errstate(divide="ignore", invalid="ignore"):
        px = np.where(placed, px / np.sqrt(count), np.nan)
    return PlacingSd(px, np.where(unknown, dof, math.inf), shared, learned)


def _pooled(squares: Floats, dof: Floats, stated: float) -> float:
    """Return the standard uncertainty that sums of squares have in common, bounded by the usual.

    What is usual is the median, in units of its own distribution's (Wilson and Hilferty 1931), or
    what is stated if that is more.
    """
    mean_squares = squares / dof
    usual = max(float(np.median(mean_squares / (1.0 - 2.0 / (9.0 * dof)) ** 3)), stated**2)
    counted = np.minimum(mean_squares, SLIP_COUNTS_AS**2 * usual)
    return math.sqrt(float(np.average(counted, weights=dof)))


def stated_sd(sheets: float, hidden: bool, own: float) -> float:
    """Return a placing's standard uncertainty as it stands in the table, else as the sheet has it.

    Parameters
    ----------
    sheets
        What the sheet states of a placing that is seen, in the unit of `own`.
    own
        What is said of the placing itself, NaN for nothing.
    """
    return sheets * (HIDDEN_FACTOR if hidden else 1.0) if math.isnan(own) else own


def dof_of_sum(variance: Floats, dof: Floats) -> float:
    """Return the degrees of freedom of a sum of variances that may rest on the same repeats.

    Their relative uncertainties, each sqrt(2 / dof), are added as those of one estimate are, not
    as those of independent ones would be: never more than Welch and Satterthwaite say.

    Parameters
    ----------
    variance, dof
        Of each part; a variance that is NaN counts for nothing.

    Examples
    --------
    >>> dof_of_sum(np.array([1.0, 1.0]), np.array([9.0, 9.0]))
    9.0
    >>> dof_of_sum(np.array([1.0, 3.0]), np.array([9.0, np.inf]))
    144.0
    """
    parts, whole = (float(np.nansum(of)) for of in (variance / np.sqrt(dof), variance))
    share = parts / max(whole, 1e-300)
    return 1.0 / share**2 if share else math.inf
