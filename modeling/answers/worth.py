"""What own lengths are worth to a squad against one length for all.

Each athlete's gain compares the volume advised today, not the true best volume, which nobody
knows, with the one volume. So a gain can be below 0, and it is what a team really gets.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from modeling.curve.advice import advised_volume
from modeling.curve.pairing import paired
from modeling.estimate import QUANTILES, Estimate, drawn_quantiles, estimate, percent
from modeling.fit.posterior import Posterior
from modeling.fit.squad_fit import SquadFit

__all__ = ["Worth", "squad_worth", "worth_of_gains"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]


@dataclass(frozen=True)
class Worth:
    """What own lengths are worth against one volume for all.

    Attributes
    ----------
    volume : float
        The one volume.
    worth_pct : Estimate
        Mean gain over that volume, in % of each athlete's own peak.
    athletes : int
        Number of athletes with data, over whom the mean is taken.
    gaining : Estimate
        Number of athletes who gain more than the smallest worthwhile change.

    Notes
    -----
    Units: the volume in the measure's volume unit, in effect in `Squad` and as done in the result
    of `ResponseModel.worth`; worth in % of the own peak; counts of athletes.
    Missing values: none.
    Errors: reading it raises nothing.
    Source: quantiles of paired draws, see `modeling.curve.pairing`.
    """

    volume: float
    worth_pct: Estimate
    athletes: int
    gaining: Estimate


def squad_worth(
    fit: SquadFit, *, volume: FloatArray, standard_volume: float | None, worthwhile_pct: float
) -> tuple[Worth, Worth]:
    """Weigh own lengths against the best single volume and against the standard.

    Parameters
    ----------
    fit : SquadFit
    volume : array of shape (n_volumes,)
        Volumes to choose from, in effect.
    standard_volume : float or None
        What the team does today, in effect; None is the best single volume.
    worthwhile_pct : float
        Smallest worthwhile change.

    Returns
    -------
    tuple of Worth
        Against the best single volume, and against the standard.
    """
    means, own = zip(*fit.each(_own, volume), strict=True)
    single = advised_volume(volume, np.mean(means, axis=0))

    def against(one: float) -> Worth:
        at_one = np.array(fit.each(_change_at, one))
        return worth_of_gains(one, np.array(own) - at_one, worthwhile_pct)

    found = against(single)
    return found, found if standard_volume is None else against(standard_volume)


def worth_of_gains(volume: float, gains: FloatArray, worthwhile_pct: float) -> Worth:
    """Sum up everyone's gains over one volume: (n_athletes, n_draws), in %."""
    gains = paired(gains)
    # Counts are whole, so their quantiles are counts that occur.
    counts = (gains > worthwhile_pct).sum(axis=0)
    return Worth(
        volume,
        estimate(drawn_quantiles(gains.mean(axis=0))),
        len(gains),
        estimate(np.quantile(counts, QUANTILES, method="inverted_cdf")),
    )


def _own(fit: SquadFit, posterior: Posterior, volume: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean curve, (n_volumes,), and draws at the volume advised, (n_draws,), in %."""
    curves = percent(fit.curves(posterior, volume))
    mean = curves.mean(axis=1)
    # Copy the row, or all of the athlete's curves would stay in memory with it.
    return mean, curves[np.searchsorted(volume, advised_volume(volume, mean))].copy()


def _change_at(fit: SquadFit, posterior: Posterior, one: float) -> FloatArray:
    """Change at one volume, in %: (n_draws,)."""
    return np.asarray(percent(fit.curves(posterior, np.array([one]))[0]), dtype=float)
