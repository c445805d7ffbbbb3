"""What may be said of a drift whose measurement is uncertain."""

import enum
import math
from functools import lru_cache

import numpy as np

#: One-sided 95 % for a normal error: each wrong call is made in at most one in twenty
#: borderline cases (JCGM 106:2012, 8.3.2, guard bands; ISO 14253-1, default rule).
COVERAGE = 1.645

#: What ± means wherever it is said: 95 % of normal errors lie within so many standard
#: uncertainties (JCGM 100:2008, G.1.3). And what it is more by, of the powers of 1 / degrees of
#: freedom, where its uncertainty was estimated: Cornish and Fisher's for Student's t (Abramowitz
#: and Stegun 1964, 26.7.5), to 0.3 % from four degrees on.
WIDTH = 1.96
_STUDENT_WIDTH = (2.3724, 2.8227, 2.556)

#: What a coverage factor is more by where its uncertainty was itself estimated: of the powers of
#: 1 / degrees of freedom. The first four are Cornish and Fisher's for Student's t (Abramowitz and
#: Stegun 1964, 26.7.5) at the normal distribution's 95 %; the last makes one degree exact (6.314).
_STUDENT = (1.5238, 1.4202, 0.9830, 0.4339, 0.3077)

#: Standard deviations within which three quarters of normal errors lie. That a quarter of perfect
#: drawings may stay undecided is common practice, no source.
_PERFECT_WITHIN = 1.1503

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)
#: Standard deviations beyond which a normal error is not looked for.
_FAR = 8.0


class Verdict(enum.StrEnum):
    """What a finding says, from worst to best."""

    OFF_MODEL = "off_model"
    UNDECIDED = "undecided"
    WAIVED = "waived"
    ON_MODEL = "on_model"
    NOT_MEASURED = "not_measured"


#: Standard uncertainties beyond which a drift is none of noise's, hardly one row in 10,000 (normal
#: distribution). It matters where the uncertainty is not small beside the tolerance. Chosen by the
#: measurement in tests/figures/sheets.md, as the next.
CERTAIN = 4.0
#: The same where errors have heavy tails for sure: of Student's t with three degrees of freedom one
#: in 9,700 lies beyond. Chosen by the measurement in tests/figures/sheets.md.
CERTAIN_WILD = 16.0


def certain(slips: float) -> float:
    """Return the standard uncertainties beyond which a drift is none of noise's.

    The tails of Student's t with three degrees of freedom fall with the cube of the distance: so
    that as few lie beyond where errors are so only perhaps, it grows with the root.

    Parameters
    ----------
    slips
        How probably errors have such tails, as of `Scatter.slips`.

    Examples
    --------
    >>> certain(0.0), round(certain(0.5), 1), certain(1.0)
    (4.0, 12.7, 16.0)
    """
    return max(CERTAIN, CERTAIN_WILD * float(np.cbrt(slips)))


@lru_cache(maxsize=4096)
def coverage(dof: float) -> float:
    """Return the factor that one-sided 95 % takes where the uncertainty itself is estimated.

    Student's t with so many degrees of freedom (JCGM 100:2008, G.3), to 0.2 % of it.

    Raises
    ------
    ValueError
        If there is less than one degree of freedom.

    Examples
    --------
    >>> coverage(math.inf), round(coverage(10.0), 2), round(coverage(3.0), 2)
    (1.645, 1.81, 2.35)
    """
    if not dof >= 1.0:
        raise ValueError("an uncertainty rests on at least one degree of freedom")
    return COVERAGE + sum(by / dof**power for power, by in enumerate(_STUDENT, 1))


def width(dof: float) -> float:
    """Return the factor that two-sided 95 % takes; `dof` as of `coverage`.

    >>> width(math.inf), round(width(10.0), 2), round(width(4.0), 2)
    (1.96, 2.23, 2.77)
    """
    return WIDTH + sum(by / dof**power for power, by in enumerate(_STUDENT_WIDTH, 1))


def judge(drift: float, uncertainty: float, tolerance: float, dof: float = math.inf) -> Verdict:
    """Judge a drift against its tolerance with guard bands on both sides.

    Accepted where |drift| + k u <= tolerance, rejected where |drift| - k u > tolerance, with
    k = 1.645 (guarded acceptance and rejection after JCGM 106:2012, 8.3); undecided between.

    Parameters
    ----------
    drift, uncertainty, tolerance
        In one unit; the uncertainty is standard, the tolerance is symmetric about zero.
    dof
        Degrees of freedom that the uncertainty rests on; k is `coverage` of them.

    Raises
    ------
    ValueError
        If a number is NaN or infinite, or the uncertainty or the tolerance is negative.

    Examples
    --------
    >>> judge(0.3, 0.2, 1.0).value, judge(-1.5, 0.2, 1.0).value, judge(0.9, 0.2, 1.0).value
    ('on_model', 'off_model', 'undecided')
    """
    _refuse(drift, uncertainty, tolerance)
    guard = coverage(dof) * uncertainty
    if abs(drift) + guard <= tolerance:
        return Verdict.ON_MODEL
    if abs(drift) - guard > tolerance:
        return Verdict.OFF_MODEL
    return Verdict.UNDECIDED


def judge_distance(
    distance: float, uncertainty: float, tolerance: float, dof: float = math.inf
) -> Verdict:
    """Judge how far two points of the plane lie apart, which noise can only make more.

    On model where a distance as small as this would be measured in at most one of twenty cases
    if the points lay a tolerance apart, off model where one as large would. The distance measured
    follows the distribution of Rice 1944, Bell Syst. Tech. J. 23:282.

    Parameters
    ----------
    distance, uncertainty, tolerance
        In one unit; the uncertainty is standard, of either coordinate of the difference.
    dof
        As in `judge`; with few, the uncertainty is taken to be as much larger as the guard of a
        drift would be.

    Raises
    ------
    ValueError
        As `judge`.

    Examples
    --------
    >>> judge_distance(0.3, 0.2, 0.75).value, judge_distance(1.2, 0.2, 0.75).value
    ('on_model', 'off_model')
    >>> judge_distance(0.45, 0.2, 0.75).value, judge(0.45, 0.2, 0.75).value
    ('on_model', 'undecided')
    """
    _refuse(distance, uncertainty, tolerance)
    u = uncertainty * coverage(dof) / COVERAGE
    wide = 3.0 * u  # no quantile that counts lies as far from the tolerance
    if distance + wide <= tolerance:
        return Verdict.ON_MODEL
    if distance - wide > tolerance:
        return Verdict.OFF_MODEL
    below = _within(distance / u, tolerance / u) if u > 1e-9 * tolerance else 0.5
    if below <= 0.05:
        return Verdict.ON_MODEL
    return Verdict.OFF_MODEL if below > 0.95 else Verdict.UNDECIDED


def largest_decidable(tolerance: float) -> float:
    """Return the uncertainty beyond which too many perfect drawings stay undecided.

    With a true drift of 0 the measured one, normal, is on model where it lies within
    tolerance - k u; that is three of four where tolerance = (k + 1.1503) u.

    >>> round(largest_decidable(1.0), 4)
    0.3577
    """
    return tolerance / (COVERAGE + _PERFECT_WITHIN)


def undecidable(uncertainty: float, tolerance: float) -> bool:
    """Return whether over a quarter of perfect drawings would stay undecided.

    Such a comparison says nothing of a drawing, whatever the drawing is.

    >>> undecidable(0.21, 1.0), undecidable(0.36, 1.0)
    (False, True)
    """
    return uncertainty > largest_decidable(tolerance)


def _refuse(drift: float, uncertainty: float, tolerance: float) -> None:
    if not all(map(math.isfinite, (drift, uncertainty, tolerance))):
        raise ValueError("a drift, uncertainty or tolerance is not a finite number")
    if uncertainty < 0 or tolerance < 0:
        raise ValueError("an uncertainty or tolerance is negative")


def _within(distance: float, true: float) -> float:
    """Return the share of measured distances up to one, of points truly some way apart.

    All in standard uncertainties; Gauss and Legendre's quadrature over the error across the way.
    """
    if distance <= 0.0:
        return 0.0
    widest = math.asin(min(1.0, _FAR / distance))
    angle = widest * _NODES
    across, along = distance * np.sin(angle), distance * np.cos(angle)
    normal = [
        math.erf((far - true) / math.sqrt(2.0)) - math.erf((-far - true) / math.sqrt(2.0))
        for far in along
    ]
    density = np.exp(-(across**2) / 2.0) / math.sqrt(2.0 * math.pi)
    return float(widest * np.sum(_WEIGHTS * density * along * np.array(normal)) / 2.0)
