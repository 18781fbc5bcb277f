"""How far athletes' best volumes lie apart, and whether they differ at all."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from modeling.answers.response import BEST
from modeling.estimate import QUANTILES, Estimate, estimate, weighted_quantiles
from modeling.fit.squad_fit import SquadFit

__all__ = ["spread_of_best", "spread_of_masses"]

FloatArray = NDArray[np.float64]

SPREADS = np.linspace(0.02, 2.5, 80)
"""Standard deviations of log best volume that are weighed."""

LOWEST_LOG = -20.0
"""Logs of likelihoods are cut there, against the highest."""


def spread_of_best(fit: SquadFit) -> tuple[Estimate, float]:
    """Spread of log best volumes across athletes, and the chance that they differ at all."""
    believed = fit.learned.across.widened()
    masses = [posterior.mass(BEST) for posterior in fit.posteriors]
    return spread_of_masses(masses, float(believed.mean[BEST]), float(believed.sd[BEST]))


def spread_of_masses(
    masses: list[tuple[FloatArray, FloatArray]], centre: float, sd: float
) -> tuple[Estimate, float]:
    """Spread of athletes' log best volumes, and the chance that it is not zero.

    Each athlete's likelihood of log best is their posterior over the squad's distribution;
    a flat prior on the squad's mean and a half-normal one (scale 1) on the spread then give
    the spread's posterior on a grid, and the evidence of a squad whose best volumes differ
    against that of one in which all are equal, from even odds.

    Parameters
    ----------
    masses : list of (array of shape (n_nodes,), array of shape (n_nodes,))
        For each athlete, evenly spaced log best volumes and the posterior of each.
    centre, sd : float
        The normal distribution over athletes that the posteriors were worked out under.
    """
    means = centre + np.linspace(-1.5, 1.5, 81) * max(sd, 0.3)
    equal, apart = np.zeros(len(means)), np.zeros((len(means), len(SPREADS)))
    for axis, mass in masses:
        log_likelihood = np.log(mass / mass.max() + 1e-300) + 0.5 * ((axis - centre) / sd) ** 2
        smooth = CubicSpline(axis, np.maximum(log_likelihood, log_likelihood.max() + LOWEST_LOG))
        equal += _within(smooth, means)
        apart += np.log(_averages(smooth, axis, means) + 1e-300)
    highest = max(equal.max(), apart.max())
    prior = np.exp(-0.5 * SPREADS**2)
    weight = np.exp(apart - highest).sum(axis=0) * prior / prior.sum()
    differ = weight.sum() / (weight.sum() + np.exp(equal - highest).sum())
    return estimate(weighted_quantiles(SPREADS, weight, QUANTILES)), float(differ)


def _within(smooth: CubicSpline, places: FloatArray) -> FloatArray:
    """Log likelihood at some places, as low as it gets beyond the nodes."""
    beyond = (places < smooth.x[0]) | (places > smooth.x[-1])
    lowest = float(smooth(smooth.x).max()) + LOWEST_LOG
    return np.where(beyond, lowest, smooth(places))


def _averages(smooth: CubicSpline, axis: FloatArray, means: FloatArray) -> FloatArray:
    """Mean likelihood over normals of all means and spreads: (n_means, n_spreads).

    A sum over nodes is exact as long as they are no further apart than twice the spread; where
    they are, the likelihood is looked at between them too.
    """
    step = float(axis[1] - axis[0])
    wide = 2.0 * SPREADS >= step
    average = np.empty((len(means), len(SPREADS)))
    finer = np.linspace(axis[0], axis[-1], 1 + int(np.ceil(np.ptp(axis) / (2.0 * SPREADS[0]))))
    for part, nodes in ((wide, axis), (~wide, finer)):
        if part.any():
            apart = (nodes[:, None] - means)[:, :, None] / SPREADS[part]
            density = np.exp(-0.5 * apart**2) / (np.sqrt(2.0 * np.pi) * SPREADS[part])
            share = np.exp(smooth(nodes)) * (nodes[1] - nodes[0])
            average[:, part] = np.tensordot(share, density, axes=1)
    return average
