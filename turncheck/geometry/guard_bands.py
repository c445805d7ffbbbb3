"""What may be said of a drift whose measurement is uncertain."""

import enum
import math

#: One-sided 95 % for a normal error: each wrong call is made in at most one in twenty
#: borderline cases (JCGM 106:2012, 8.3.2, guard bands; ISO 14253-1, default rule).
COVERAGE = 1.645


class Verdict(enum.StrEnum):
    """What a finding says, from worst to best."""

    OFF_MODEL = "off_model"
    UNDECIDED = "undecided"
    WAIVED = "waived"
    ON_MODEL = "on_model"
    NOT_MEASURED = "not_measured"


#: Standard uncertainties beyond which a drift is none of noise's, one row in a thousand (normal
#: distribution, two sides). It matters where the uncertainty is not small beside the tolerance.
CERTAIN = 4.0
#: The same where placings hold slips of the hand: of errors with heavy tails (Student's t, three
#: degrees of freedom) as few lie beyond.
CERTAIN_WILD = 8.0
#: Share of perfect drawings that may be left undecided; common practice, no source.
UNDECIDED_MOST = 0.25
#: Standard uncertainties within which so many normal errors lie: of a perfect drawing's drift.
_PERFECT_WITHIN = 1.1503


def decidable_uncertainty(tolerance: float) -> float:
    """Return the largest uncertainty at which enough perfect drawings are found on model.

    >>> round(decidable_uncertainty(0.5), 3)
    0.179
    """
    return tolerance / (COVERAGE + _PERFECT_WITHIN)


def judge(
    drift: float, uncertainty: float, tolerance: float, certain: float = CERTAIN
) -> Verdict:
    """Judge a drift against its tolerance with guard bands on both sides.

    Accepted where |drift| + k u <= tolerance, rejected where |drift| - k u > tolerance, with
    k = 1.645 (guarded acceptance and rejection after JCGM 106:2012, 8.3); undecided between, and
    where noise alone might give such a drift in one of the hundred rows of a sheet.

    Parameters
    ----------
    drift, uncertainty, tolerance
        In one unit; the uncertainty is standard, the tolerance is symmetric about zero.
    certain
        Standard uncertainties beyond which no drift is noise's.

    Raises
    ------
    ValueError
        If a number is NaN or infinite, or the uncertainty or the tolerance is negative.

    Examples
    --------
    >>> judge(0.3, 0.2, 1.0).value, judge(-1.5, 0.2, 1.0).value, judge(0.9, 0.2, 1.0).value
    ('on_model', 'off_model', 'undecided')
    """
    if not all(map(math.isfinite, (drift, uncertainty, tolerance))):
        raise ValueError("a drift, uncertainty or tolerance is not a finite number")
    if uncertainty < 0 or tolerance < 0:
        raise ValueError("an uncertainty or tolerance is negative")
    guard = COVERAGE * uncertainty
    if abs(drift) + guard <= tolerance:
        return Verdict.ON_MODEL
    if abs(drift) - guard > tolerance and abs(drift) > certain * uncertainty:
        return Verdict.OFF_MODEL
    return Verdict.UNDECIDED
