"""Vectors that lie near a plane of few dimensions, any of whose numbers may be unknown.

The probabilistic form of principal components (Tipping and Bishop 1999, J. R. Stat. Soc. B 61),
each number with a noise of its own: what is known of a vector tells its scores, and these the rest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from turncheck.numerics.arrays import Floats


@dataclass(frozen=True)
class Scores:
    """What is known of a vector's scores: their mean, (K,), and their covariance, (K, K)."""

    mean: Floats
    covariance: Floats


@dataclass(frozen=True)
class ShapeSpace:
    """The plane, and how far vectors lie off it.

    Attributes
    ----------
    mean
        (D,) the mean vector.
    axes
        (K, D) its directions, of length 1.
    spread
        (K,) the variance of the scores along them.
    noise
        (D,) the variance of each number about the plane, above 0.
    """

    mean: Floats
    axes: Floats
    spread: Floats
    noise: Floats

    @property
    def unknown(self) -> Scores:
        """What is known of the scores of a vector of which nothing is."""
        return Scores(np.zeros(len(self.spread)), np.diag(self.spread))

    def scores(self, values: Floats, before: Scores, further: Floats | float = 0.0) -> Scores:
        """Return what is known of the scores once some numbers of the vector are.

        Parameters
        ----------
        values
            (D,) the vector, NaN where it is unknown.
        before
            What was known without them.
        further
            Variance by which they are less sure than `noise` says, (D,) or one for all.
        """
        known = np.isfinite(values)
        if not known.any():
            return before
        weighed = self.axes[:, known] / (self.noise + further)[known]
        surprise = (values - self.mean)[known] - before.mean @ self.axes[:, known]
        # by the matrix inversion lemma, with matrices of the few dimensions alone
        inside = np.eye(len(before.mean)) + before.covariance @ (weighed @ self.axes[:, known].T)
        covariance = np.linalg.solve(inside, before.covariance)
        covariance = (covariance + covariance.T) / 2.0
        return Scores(before.mean + covariance @ (weighed @ surprise), covariance)

    def misfit(self, values: Floats) -> float:
        """Return how far a vector lies off the plane, in its noise: about 1 for one of its kind."""
        known = np.isfinite(values)
        if not known.any():
            return 0.0
        off = values - self.mean - self.scores(values, self.unknown).mean @ self.axes
        return float(np.sqrt(np.mean(off[known] ** 2 / self.noise[known])))

    def vector(self, scores: Scores) -> tuple[Floats, Floats]:
        """Return the vector and the variance of each of its numbers, both (D,)."""
        variance = np.einsum("kd,kl,ld->d", self.axes, scores.covariance, self.axes) + self.noise
        return self.mean + scores.mean @ self.axes, variance
