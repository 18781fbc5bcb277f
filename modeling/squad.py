"""What the model says about the squad as a whole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from modeling.advice import advised_volume
from modeling.response import (
    BEST,
    QUANTILES,
    SAMPLED_CURVES,
    Curve,
    Estimate,
    curve_of,
    estimate,
    percent,
    weighted_quantiles,
)
from modeling.squad_fit import SquadFit

__all__ = ["Squad", "squad_numbers"]

FloatArray = NDArray[np.float64]

MIDDLE = np.array([0.5])


@dataclass(frozen=True)
class Squad:
    """What the model says about the squad.

    Attributes
    ----------
    athletes, sessions, efforts : int
        Counts behind it.
    standard_volume : float
        The standard that calls are made against.
    best_single_volume : float
        The one volume that is best for all together.
    worth_of_individual_pct : Estimate
        Mean gain of everyone's advised volume over the best single volume, in %.
    spread_log_sd : Estimate
        Standard deviation of log best volume across athletes.
    chance_athletes_differ : float
        Probability that best volumes differ at all, from even odds beforehand.
    curve : Curve
        What to expect of an athlete of this squad without data.
    effort_noise_pct, day_noise_pct : Estimate
        Standard deviations of an effort and of a day, in %.
    warnings : tuple of str
        Cautions that belong on the screen.
    """

    athletes: int
    sessions: int
    efforts: int
    standard_volume: float
    best_single_volume: float
    worth_of_individual_pct: Estimate
    spread_log_sd: Estimate
    chance_athletes_differ: float
    curve: Curve
    effort_noise_pct: Estimate
    day_noise_pct: Estimate
    warnings: tuple[str, ...]


def squad_numbers(fit: SquadFit, *, volume: FloatArray, standard_volume: float | None) -> Squad:
    """Work out what the fit says about the squad as a whole."""
    rows = [p.rows for p in fit.posteriors if p.rows is not None]
    together, own = np.zeros((len(volume), SAMPLED_CURVES)), np.zeros(SAMPLED_CURVES)
    for number, posterior in enumerate(fit.posteriors):
        cells = posterior.sample(SAMPLED_CURVES)
        # Athletes are independent given the shape of their curves, so their draws are paired at
        # random; a wrong shape is wrong for all of them, so like is paired with like.
        chance = np.random.default_rng(number).random(len(cells))
        cells = cells[np.lexsort((chance, cells // posterior.grid.cells_per_form))]
        curves = percent(fit.curves(posterior, cells, volume))
        advised = advised_volume(volume, curves.mean(axis=1))
        together += curves / len(fit.posteriors)
        own += curves[np.searchsorted(volume, advised)] / len(fit.posteriors)
    single = advised_volume(volume, together.mean(axis=1))
    worth = own - together[np.searchsorted(volume, single)]
    spread, differ = spread_of_best(fit)
    sessions, efforts = sum(len(r.sessions) for r in rows), sum(r.efforts for r in rows)
    effort, day = noise_estimates(fit, len(rows), sessions, efforts)
    return Squad(
        athletes=len(rows),
        sessions=sessions,
        efforts=efforts,
        standard_volume=single if standard_volume is None else standard_volume,
        best_single_volume=single,
        worth_of_individual_pct=estimate(np.quantile(worth, QUANTILES)),
        spread_log_sd=spread,
        chance_athletes_differ=differ,
        curve=curve_of(fit, fit.prior_posterior(), volume),
        effort_noise_pct=effort,
        day_noise_pct=day,
        warnings=_cautions(fit),
    )


def spread_of_best(fit: SquadFit) -> tuple[Estimate, float]:
    """Spread of log best volumes across athletes, and the chance that they differ at all.

    Each athlete's likelihood of log best is their posterior over the squad's distribution;
    a flat prior on the squad's mean and a half-normal one (scale 1) on the spread then give
    the spread's posterior on a grid, and its evidence against a spread of zero.
    """
    believed = fit.learned.across.widened()
    centre = float(believed.mean[BEST])
    sd = float(believed.sd[BEST])
    means = centre + np.linspace(-1.5, 1.5, 41) * max(sd, 0.3)
    spreads = np.concatenate([[1e-3], np.linspace(0.02, 2.5, 80)])
    total = np.zeros((len(means), len(spreads)))
    for posterior in fit.posteriors:
        axis, mass = posterior.mass(BEST)
        step = axis[1] - axis[0]
        likelihood = mass / _normal_density(axis, centre, sd)
        width = np.sqrt(spreads**2 + step**2 / 12.0)
        density = _normal_density(axis[:, None, None], means[:, None], width[None, :])
        total += np.log(np.tensordot(likelihood, density, axes=1) + 1e-300)
    evidence = np.exp(total - total.max()).sum(axis=0)
    prior = _normal_density(spreads[1:], 0.0, 1.0)
    weight = evidence[1:] * prior / prior.sum()
    differ = weight.sum() / (weight.sum() + evidence[0])
    quantiles = weighted_quantiles(spreads[1:], weight, QUANTILES)
    return estimate(quantiles), float(differ)


def _normal_density(
    value: FloatArray, mean: FloatArray | float, sd: FloatArray | float
) -> FloatArray:
    """Density of the normal but for the constant (scipy.stats takes longer to load than to fit)."""
    return np.exp(-0.5 * ((value - mean) / sd) ** 2) / sd


def noise_estimates(
    fit: SquadFit, athletes: int, sessions: int, efforts: int
) -> tuple[Estimate, Estimate]:
    """Effort and day noise in %, with intervals from the degrees of freedom behind each.

    A standard deviation's relative error is 1 / sqrt(2 df) (chi-square); for the day it grows
    with the effort noise left in a session's mean.
    """
    effort_df = max(efforts - sessions, 1)
    effort = fit.learned.noise.effort
    day = max(fit.learned.noise.day, 1e-6)
    left_over = effort**2 / (efforts / sessions)
    day_error = (1.0 + left_over / day**2) / np.sqrt(2.0 * max(sessions - athletes, 1))
    return (
        _sized(effort, 1.0 / np.sqrt(2.0 * effort_df)),
        _sized(day, min(day_error, 2.0)),
    )


def _sized(sd: float, relative_error: float) -> Estimate:
    factor = float(np.exp(1.645 * relative_error))
    return Estimate(100.0 * sd, 100.0 * sd / factor, 100.0 * sd * factor)


def _cautions(fit: SquadFit) -> tuple[str, ...]:
    tried = [p.rows.volume for p in fit.posteriors if p.rows is not None]
    cautions = []
    if len(tried) < 5:
        cautions.append(
            f"Only {len(tried)} of the squad have data, so athletes can hardly learn from "
            "each other; intervals rest on what is common elsewhere."
        )
    if np.ptp(np.concatenate(tried)) == 0:
        cautions.append(
            "All efforts were made at one volume, so nothing is known of any curve. "
            "Run a fade test or vary the volume."
        )
    beyond = sum(
        bool(np.exp(posterior.quantiles(BEST, MIDDLE)[0]) > volume.max())
        for posterior, volume in zip(fit.posteriors, tried, strict=True)
    )
    if beyond > len(tried) / 2:
        cautions.append(
            f"{beyond} of {len(tried)} seem to peak beyond the volumes tried. "
            "Longer tests would show where."
        )
    return tuple(cautions)
