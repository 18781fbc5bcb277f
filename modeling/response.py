"""What the model says, as frozen values: per athlete and about the squad."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from modeling.advice import advised_volume
from modeling.engine import Posterior, SquadFit

__all__ = ["Curve", "Estimate", "Response", "Squad", "curve_volumes", "respond", "squad_numbers"]

FloatArray = NDArray[np.float64]

QUANTILES = np.array([0.05, 0.25, 0.5, 0.75, 0.95])
BAND = np.array([0.05, 0.95])
MIDDLE = np.array([0.5])
BEST, GAIN, HOLD = 0, 1, 2
SAMPLED_CURVES = 400


@dataclass(frozen=True)
class Estimate:
    """A median with its 90 % interval (5 % and 95 % quantiles)."""

    median: float
    low: float
    high: float


@dataclass(frozen=True)
class Curve:
    """Expected change from the peak in %, with its 90 % band, at rising volumes."""

    volume: FloatArray
    change_pct: FloatArray
    change_pct_low: FloatArray
    change_pct_high: FloatArray


@dataclass(frozen=True)
class Response:
    """One athlete's warm-up response.

    Attributes
    ----------
    athlete : object
    sessions, efforts : int
        Counts behind it.
    best_volume : Estimate
        Where the curve peaks, in the measure's volume unit.
    best_volume_half : tuple of float
        25 % and 75 % quantiles of it.
    gain_pct : Estimate
        From cold to peak, in % of the cold value.
    hold_volume : Estimate
        Volume from the peak until performance is down 10 %.
    advised_volume : float
        For one best effort.
    loss_at_standard_pct : Estimate
        Performance given away at the standard volume, in % of the peak.
    chance_short, chance_long, chance_either : float
        They sum to 1: better off with less, with more, or standard within the smallest
        worthwhile change of the peak.
    call : {"short", "long", "either", "not known"}
    reach : {"inside", "below", "beyond"} or None
        Where the peak lies against the volumes tried; None without data.
    curve : Curve
    session_peaks : mapping
        For each session, the athlete's expected value at the peak on that day.
    """

    athlete: object
    sessions: int
    efforts: int
    best_volume: Estimate
    best_volume_half: tuple[float, float]
    gain_pct: Estimate
    hold_volume: Estimate
    advised_volume: float
    loss_at_standard_pct: Estimate
    chance_short: float
    chance_long: float
    chance_either: float
    call: str
    reach: str | None
    curve: Curve
    session_peaks: Mapping[object, float]


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


def curve_volumes(fit: SquadFit, standard_volume: float | None) -> FloatArray:
    """Volumes to draw curves at: 0 to a third past the largest tried, closer near 0.

    Whole numbers where all volumes tried are whole, so that advice is in whole efforts.
    """
    tried = np.concatenate([p.rows.volume for p in fit.posteriors if p.rows is not None])
    small, last = fit.data.lowest_volume, 1.3 * fit.data.highest_volume
    volume = small * np.expm1(np.linspace(0.0, np.log1p(last / small), 110))
    if np.all(tried == np.round(tried)):
        volume = np.round(volume)
    extra = [] if standard_volume is None else [standard_volume]
    return np.unique(np.concatenate([volume, extra]))


def percent(change: FloatArray) -> FloatArray:
    """Log change to %."""
    return 100.0 * np.expm1(change)


def curve_of(fit: SquadFit, posterior: Posterior, volume: FloatArray) -> Curve:
    """Give the expected curve and band of one posterior."""
    drawn = percent(fit.curves(posterior, posterior.sample(SAMPLED_CURVES), volume))
    low, high = np.quantile(drawn, BAND, axis=1)
    return Curve(volume, drawn.mean(axis=1), low, high)


def respond(
    fit: SquadFit,
    posterior: Posterior,
    *,
    athlete: object,
    volume: FloatArray,
    standard_volume: float,
    worthwhile_pct: float,
    firm_chance: float,
    session_peaks: Mapping[object, float],
) -> Response:
    """Turn one athlete's posterior into what it says."""
    cells, weight = posterior.cells, posterior.weight
    best = np.exp(posterior.coordinates(cells)[:, BEST])
    loss = -percent(fit.curves(posterior, cells, np.array([standard_volume]))[0])
    matters = loss > worthwhile_pct
    short = float(weight[matters & (best < standard_volume)].sum())
    long = float(weight[matters & (best >= standard_volume)].sum())
    chances = {"short": short, "long": long, "either": max(0.0, 1.0 - short - long)}
    likeliest = max(chances, key=lambda name: chances[name])
    rows = posterior.rows
    firm = rows is not None and chances[likeliest] >= firm_chance
    peak = np.exp(posterior.quantiles(BEST, QUANTILES))
    gain = percent(np.exp(posterior.quantiles(GAIN, QUANTILES)))
    hold = np.exp(posterior.quantiles(HOLD, QUANTILES))
    curve = curve_of(fit, posterior, volume)
    return Response(
        athlete=athlete,
        sessions=0 if rows is None else len(rows.sessions),
        efforts=0 if rows is None else rows.efforts,
        best_volume=_estimate(peak),
        best_volume_half=(float(peak[1]), float(peak[3])),
        gain_pct=_estimate(gain),
        hold_volume=_estimate(hold),
        advised_volume=advised_volume(volume, curve.change_pct),
        loss_at_standard_pct=_estimate(weighted_quantiles(loss, weight, QUANTILES)),
        chance_short=chances["short"],
        chance_long=chances["long"],
        chance_either=chances["either"],
        call=likeliest if firm else "not known",
        reach=None if rows is None else _reach(float(peak[2]), rows.volume),
        curve=curve,
        session_peaks=session_peaks,
    )


def _estimate(quantiles: FloatArray) -> Estimate:
    return Estimate(float(quantiles[2]), float(quantiles[0]), float(quantiles[4]))


def _reach(best_volume: float, tried: FloatArray) -> str:
    if best_volume > tried.max():
        return "beyond"
    # A peak before the first positive volume cannot be told from no rise at all.
    positive = tried[tried > 0]
    return "below" if len(positive) and best_volume < positive.min() else "inside"


def weighted_quantiles(value: FloatArray, weight: FloatArray, shares: FloatArray) -> FloatArray:
    """Quantiles of weighted values, interpolated between the middles of their weights."""
    order = np.argsort(value, kind="stable")
    cumulative = np.cumsum(weight[order])
    middle = (cumulative - 0.5 * weight[order]) / cumulative[-1]
    return np.interp(shares, middle, value[order])


def squad_numbers(fit: SquadFit, *, volume: FloatArray, standard_volume: float | None) -> Squad:
    """Work out what the fit says about the squad as a whole."""
    rows = [p.rows for p in fit.posteriors if p.rows is not None]
    drawn, own = [], []
    for number, posterior in enumerate(fit.posteriors):
        curves = percent(fit.curves(posterior, posterior.sample(SAMPLED_CURVES), volume))
        # Athletes are independent given the squad: pair their draws at random.
        curves = np.random.default_rng(number).permutation(curves, axis=1)
        advised = advised_volume(volume, curves.mean(axis=1))
        drawn.append(curves)
        own.append(curves[np.searchsorted(volume, advised)])
    together = np.mean(drawn, axis=0)
    single = advised_volume(volume, together.mean(axis=1))
    worth = np.mean(own, axis=0) - together[np.searchsorted(volume, single)]
    spread, differ = spread_of_best(fit)
    sessions, efforts = sum(len(r.sessions) for r in rows), sum(r.efforts for r in rows)
    effort, day = noise_estimates(fit, len(rows), sessions, efforts)
    return Squad(
        athletes=len(rows),
        sessions=sessions,
        efforts=efforts,
        standard_volume=single if standard_volume is None else standard_volume,
        best_single_volume=single,
        worth_of_individual_pct=_estimate(np.quantile(worth, QUANTILES)),
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
    centre = float(fit.across.mean[BEST])
    sd = float(fit.across.sd[BEST])
    means = centre + np.linspace(-1.5, 1.5, 41) * max(sd, 0.3)
    spreads = np.concatenate([[1e-3], np.linspace(0.02, 2.5, 80)])
    total = np.zeros((len(means), len(spreads)))
    for posterior in fit.posteriors:
        axis = posterior.grid.axes[BEST]
        step = axis[1] - axis[0]
        place = np.rint((posterior.coordinates(posterior.cells)[:, BEST] - axis[0]) / step)
        mass = np.bincount(place.astype(int), posterior.weight, len(axis))
        likelihood = mass / norm.pdf(axis, centre, sd)
        width = np.sqrt(spreads**2 + step**2 / 12.0)
        density = norm.pdf(axis[:, None, None], means[:, None], width[None, :])
        total += np.log(np.tensordot(likelihood, density, axes=1) + 1e-300)
    evidence = np.exp(total - total.max()).sum(axis=0)
    prior = norm.pdf(spreads[1:])
    weight = evidence[1:] * prior / prior.sum()
    differ = weight.sum() / (weight.sum() + evidence[0])
    quantiles = weighted_quantiles(spreads[1:], weight, QUANTILES)
    return _estimate(quantiles), float(differ)


def noise_estimates(
    fit: SquadFit, athletes: int, sessions: int, efforts: int
) -> tuple[Estimate, Estimate]:
    """Effort and day noise in %, with intervals from the degrees of freedom behind each.

    A standard deviation's relative error is 1 / sqrt(2 df) (chi-square); for the day it grows
    with the effort noise left in a session's mean.
    """
    effort_df = max(efforts - sessions, 1)
    effort = fit.noise.effort
    day = max(fit.noise.day, 1e-6)
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
