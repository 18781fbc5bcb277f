"""How far apart athletes' best volumes are, and whether they differ at all."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from modeling.answers.response import BEST
from modeling.estimate import QUANTILES, Estimate, estimate, weighted_quantiles
from modeling.fit.posterior import Posterior
from modeling.fit.squad_fit import SquadFit

__all__ = ["spread_of_best", "told_of_spreads", "weighed_spreads"]

FloatArray = NDArray[np.float64]

SPREADS = np.linspace(0.02, 2.5, 80)
"""Standard deviations of log best volume to weigh."""

LOWEST_LOG = -20.0
"""Log likelihoods are cut off this far below the highest."""


def spread_of_best(fit: SquadFit) -> tuple[Estimate, float]:
    """Spread of log best volumes across athletes, and the chance that they differ at all."""
    believed = fit.learned.across.widened()
    squad = float(believed.mean[BEST]), float(believed.sd[BEST])
    return weighed_spreads(fit.sum_of_each(_told_by, *squad))


def _told_by(_: SquadFit, posterior: Posterior, centre: float, sd: float) -> FloatArray:
    return told_of_spreads(*posterior.mass(BEST), centre, sd)


def told_of_spreads(axis: FloatArray, mass: FloatArray, centre: float, sd: float) -> FloatArray:
    """Give the evidence of one athlete's log best volume on the squad's mean and spread.

    The athlete's likelihood is the posterior divided by the squad's distribution.

    Parameters
    ----------
    axis, mass : arrays of shape (n_nodes,)
        Evenly spaced log best volumes and the posterior of each.
    centre, sd : float
        Mean and spread of the normal distribution over athletes behind the posterior.

    Returns
    -------
    array of shape (n_means, 1 + n_spreads)
        Log likelihoods of no spread, and of each of `SPREADS`; add them up over athletes.
    """
    means = centre + np.linspace(-1.5, 1.5, 81) * max(sd, 0.3)
    log_likelihood = np.log(mass / mass.max() + 1e-300) + 0.5 * ((axis - centre) / sd) ** 2
    smooth = CubicSpline(axis, np.maximum(log_likelihood, log_likelihood.max() + LOWEST_LOG))
    apart = np.log(_averages(smooth, axis, means) + 1e-300)
    return np.concatenate([_within(smooth, means)[:, None], apart], axis=1)


def weighed_spreads(told: FloatArray) -> tuple[Estimate, float]:
    """Spread of athletes' log best volumes, and the chance that it is not zero.

    The prior is flat on the squad's mean and half-normal (scale 1) on the spread. It gives the
    spread's posterior on a grid. The chance starts from even odds and compares a squad whose
    best volumes differ with one in which all are equal.

    Parameters
    ----------
    told : array of shape (n_means, 1 + n_spreads)
        Sum of `told_of_spreads` over the athletes.
    """
    highest = told.max()
    prior = np.exp(-0.5 * SPREADS**2)
    weight = np.exp(told[:, 1:] - highest).sum(axis=0) * prior / prior.sum()
    differ = weight.sum() / (weight.sum() + np.exp(told[:, 0] - highest).sum())
    return estimate(weighted_quantiles(SPREADS, weight, QUANTILES)), float(differ)


def _within(smooth: CubicSpline, places: FloatArray) -> FloatArray:
    """Log likelihood at some places; beyond the nodes it is the lowest value allowed."""
    beyond = (places < smooth.x[0]) | (places > smooth.x[-1])
    lowest = float(smooth(smooth.x).max()) + LOWEST_LOG
    return np.where(beyond, lowest, smooth(places))


def _averages(smooth: CubicSpline, axis: FloatArray, means: FloatArray) -> FloatArray:
    """Mean likelihood under normals of all means and spreads: (n_means, n_spreads).

    A sum over nodes is exact as long as they are no further apart than twice the spread. For
    smaller spreads the likelihood is also read between the nodes.
    """
    step = float(axis[1] - axis[0])
    wide = 2.0 * SPREADS >= step
    average = np.empty((len(means), len(SPREADS)))
    finer = np.linspace(axis[0], axis[-1], 1 + int(np.ceil(np.ptp(axis) / (2.0 * SPREADS[0]))))
    for part, nodes in ((wide, axis), (~wide, finer)):
        if part.any():
            squared = -0.5 * (nodes[:, None] - means) ** 2
            density = squared[:, :, None] * SPREADS[part] ** -2.0
            np.exp(density, out=density)
            share = np.exp(smooth(nodes)) * (nodes[1] - nodes[0])
            total = np.tensordot(share, density, axes=1)
            average[:, part] = total / (np.sqrt(2.0 * np.pi) * SPREADS[part])
    return average
