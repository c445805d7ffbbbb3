"""Robust statistics: Tukey's biweight, a centre by it, and a spread by the median."""

import numpy as np

from turncheck.numerics.arrays import Floats

#: Tukey's biweight at 95 % efficiency for normal errors (Holland and Welsch 1977,
#: Commun. Stat. A6:813, table 1).
TUKEY_C = 4.685
#: Standard deviations in one median absolute deviation of normal errors, 1 / 0.6745 (Rousseeuw
#: and Croux 1993, J. Am. Stat. Assoc. 88:1273; from memory).
MAD_SD = 1.4826
_CENTRE_STEPS_MOST = 50


def biweights(residuals: Floats, cut: float) -> Floats:
    """Return Tukey's weights, (1 - (r / cut)^2)^2 within the cut and 0 beyond.

    Parameters
    ----------
    residuals
        (...), in the unit of `cut`; NaN stays NaN.
    cut
        `TUKEY_C` where the residuals are in standard uncertainties.

    Examples
    --------
    >>> biweights(np.array([0.0, 1.0, -3.0]), 2.0).tolist()
    [1.0, 0.5625, 0.0]
    """
    inside: Floats = np.maximum(1.0 - (residuals / cut) ** 2, 0.0)
    return inside**2


def biweight_bends(residuals: Floats, cut: float) -> Floats:
    """Return how much Tukey's losses bend, over that of r^2: (1 - (r / cut)^2) (1 - 5 (r / cut)^2).

    0 where they bend down or not at all; nowhere more than `biweights`.

    Examples
    --------
    >>> biweight_bends(np.array([0.0, 1.0, 4.0]), 4.0).round(3).tolist()
    [1.0, 0.645, 0.0]
    """
    squares: Floats = (residuals / cut) ** 2
    return np.where(squares < 0.2, (1.0 - squares) * (1.0 - 5.0 * squares), 0.0)


def biweight_losses(residuals: Floats, cut: float) -> Floats:
    """Return Tukey's losses, whose slopes are 2 r times `biweights`: r^2 for a small residual.

    Examples
    --------
    >>> biweight_losses(np.array([0.0, 3.0, 9.0]), 3.0).tolist()
    [0.0, 3.0, 3.0]
    """
    inside: Floats = np.maximum(1.0 - (residuals / cut) ** 2, 0.0)
    return cut**2 / 3.0 * (1.0 - inside**3)


def median_sd(deviations: Floats) -> float:
    """Return the standard deviation of normal errors whose absolute values have this median.

    Parameters
    ----------
    deviations
        (n,) at least one, from their centre; signs don't matter, no NaN.

    Examples
    --------
    >>> median_sd(np.array([-1.0, 2.0, 1000.0]))
    2.9652
    """
    return MAD_SD * float(np.median(np.abs(deviations)))


def robust_centre(values: Floats, sd: Floats) -> tuple[float, float]:
    """Return Tukey's biweight centre of values with known uncertainties, and its own.

    Parameters
    ----------
    values, sd
        (n,) at least one, and their standard uncertainties, in one unit, no NaN.

    Examples
    --------
    >>> centre, sd = robust_centre(np.array([5.0, 5.0, 5.0, 9.0]), np.full(4, 0.1))
    >>> round(centre, 6), round(sd, 4)
    (5.0, 0.0577)
    """
    centre = float(np.median(values))
    total = 0.0
    for _ in range(_CENTRE_STEPS_MOST):
        weight = biweights((values - centre) / sd, TUKEY_C) / sd**2
        total = float(weight.sum())
        if total <= 0.0:  # the median itself lies between two that disagree
            return centre, float(np.sqrt(np.mean((values - centre) ** 2)))
        step = float(np.sum(weight * (values - centre))) / total
        centre += step
        if abs(step) < 1e-12 * max(1.0, abs(centre)):
            break
    return centre, 1.0 / float(np.sqrt(total))
