"""What other squads teach about one that has not been seen yet.

A squad's mean is drawn around theirs. The squad may be an odd one, so the draw is from a t
distribution. In EM this is a normal that counts for less, the farther away the squad turns out to
be (Lange, Little & Taylor 1989). The spread across its athletes and the noise start at the other
squads' values, with the weight of a few athletes or efforts, which its own data soon outweigh.

References
----------
Gelman, Carlin, Stern et al. (2013), Bayesian data analysis, 3rd ed., sections 2.6 and 3.6: the
scaled inverse chi-squared and inverse Wishart distributions as the worth of so many observations.
Lange, Little & Taylor (1989), Robust statistical modeling using the t distribution, JASA 84.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from modeling.curve.shapes import CurveFamily, DataRange, Hyperprior
from modeling.efforts.session_model import NoiseSizes
from modeling.fit.noise import COMPONENTS, SizeScores
from modeling.fit.shared import BEFOREHAND, Beforehand

__all__ = ["SquadPrior"]

FloatArray = NDArray[np.float64]

LEAST_SHARE = 0.01
"""Smallest share of its expected value that a variance counts as: near 0 its pull has no limit."""


@dataclass(frozen=True)
class SquadPrior:
    """A squad's prior, from other squads.

    Attributes
    ----------
    coordinates : tuple of str
        Names of the coordinates in `curves`, as the families name them.
    curves : Hyperprior
    variances, weights : arrays of shape (4,)
        Expected variances of `noise.COMPONENTS`, log scale, and how many observations each counts
        for.
    constants : tuple of 4 pairs
        Prior of the account's constants, in the form of `shared.BEFOREHAND`.
    """

    coordinates: tuple[str, ...]
    curves: Hyperprior
    variances: FloatArray
    weights: FloatArray
    constants: Beforehand = BEFOREHAND

    def __post_init__(self) -> None:
        """Raise a ValueError if this is not a distribution: it may come from a file."""
        many = len(self.coordinates)
        curves, sizes = self.curves, np.array([self.variances, self.weights])
        means = np.array([curves.mean, curves.mean_sd])
        if (
            means.shape != (2, many)
            or curves.covariance.shape != (many, many)
            or sizes.shape != (2, 4)
        ):
            raise ValueError("numbers are missing")
        constants = np.array(self.constants, dtype=float)
        if constants.shape != np.shape(BEFOREHAND):
            raise ValueError("numbers are missing")
        numbers = [*means.ravel(), *curves.covariance.ravel(), *sizes.ravel(), *constants.ravel()]
        if not np.isfinite([*numbers, curves.athletes]).all():
            raise ValueError("a number is not finite")
        positive = [*curves.mean_sd, *sizes.ravel(), curves.athletes, curves.mean_df]
        if min([*positive, *constants[:, 1]]) <= 0:
            raise ValueError("a size is not above 0")
        if np.linalg.eigvalsh(curves.covariance).min() <= 0:
            raise ValueError("a spread is negative")

    def hyperprior(self, family: CurveFamily, data: DataRange) -> Hyperprior | None:
        """Give the prior in a family's coordinates; those missing here get the family's own."""
        own = family.hyperprior(data)
        if own is None:
            return None
        names = family.grid(data).names
        known = np.array([name in self.coordinates for name in names])
        place = [self.coordinates.index(name) for name in names if name in self.coordinates]
        mean, mean_sd = own.mean.copy(), own.mean_sd.copy()
        mean[known] = self.curves.mean[place]
        mean_sd[known] = self.curves.mean_sd[place]
        covariance = np.where(np.outer(known, known), 0.0, own.covariance)
        covariance *= known[:, None] == known
        covariance[np.ix_(known, known)] = self.curves.covariance[np.ix_(place, place)]
        return Hyperprior(mean, mean_sd, covariance, self.curves.athletes, self.curves.mean_df)

    def size_scores(self, noise: NoiseSizes) -> SizeScores:
        """Give what scaled inverse chi-squared distributions say about the noise sizes.

        This is the score of ``-(w / 2) (log v + s / v)`` at a variance v, and its information as
        if v were the expected s.
        """
        now = np.array([getattr(noise, name) for name in COMPONENTS]) ** 2
        now = np.maximum(now, LEAST_SHARE * self.variances)
        score = 0.5 * self.weights * (self.variances / now**2 - 1.0 / now)
        return SizeScores(score, np.diag(0.5 * self.weights / now**2))
