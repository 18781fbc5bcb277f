"""What the model says about an athlete, as frozen values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from modeling.advice import advised_volume
from modeling.curve import ResponseFamily
from modeling.data_range import NOTHING
from modeling.estimate import BAND, QUANTILES, Estimate, estimate, percent, weighted_quantiles
from modeling.posterior import Posterior
from modeling.squad_fit import SquadFit

__all__ = ["Curve", "Response", "curve_volumes", "respond"]

FloatArray = NDArray[np.float64]

BEST = 0
SAMPLED_CURVES = 400
FEWEST_VOLUMES = 3

LEAST_SHARE = 1e-12
"""Of the peak, as far as the logarithm of a change goes."""


@dataclass(frozen=True)
class Curve:
    """Expected change from the peak in %, with its 90 % band, at rising volumes.

    The band holds at least 90 % of what is thought likely, and always the expected change.
    """

    volume: FloatArray
    change_pct: FloatArray
    change_pct_low: FloatArray
    change_pct_high: FloatArray

    def log_change(self, volume: FloatArray) -> FloatArray:
        """Give the expected change from the peak at any volumes, of the log."""
        share = np.interp(volume, self.volume, self.change_pct) / 100.0
        # Far beyond the peak nothing may be left but rounding.
        return np.log1p(np.maximum(share, LEAST_SHARE - 1.0))


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


def curve_of(fit: SquadFit, posterior: Posterior, volume: FloatArray) -> Curve:
    """Give the expected curve and band of one posterior."""
    drawn = percent(fit.curves(posterior, posterior.sample(SAMPLED_CURVES), volume))
    mean = drawn.mean(axis=1)
    low, high = np.quantile(drawn, BAND, axis=1)
    # Where a few curves fall far below the rest, the mean lies beyond the quantiles.
    return Curve(volume, mean, np.minimum(low, mean), np.maximum(high, mean))


def respond(
    fit: SquadFit,
    posterior: Posterior,
    family: ResponseFamily,
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
    short = min(1.0, float(weight[matters & (best < standard_volume)].sum()))
    long = min(1.0 - short, float(weight[matters & (best >= standard_volume)].sum()))
    chances = {"short": short, "long": long, "either": max(0.0, 1.0 - short - long)}
    likeliest = max(chances, key=lambda name: chances[name])
    rows = posterior.rows
    peak = np.exp(posterior.quantiles(BEST, QUANTILES))
    # Efforts at fewer than three volumes cannot show a rise and a fall: no call on the
    # squad's word alone.
    own_evidence = rows is not None and len(np.unique(rows.volume)) >= FEWEST_VOLUMES
    reach = None if rows is None else _reach(float(peak[2]), rows.volume)
    # One who was still rising when the efforts ended has shown no fall, and the reverse.
    unseen = (likeliest, reach) in {("short", "beyond"), ("long", "below")}
    firm = own_evidence and not unseen and chances[likeliest] >= firm_chance
    gain = percent(np.exp(posterior.quantiles(family.gain, QUANTILES)))
    hold = np.exp(posterior.quantiles_of(family.log_hold(posterior.grid), QUANTILES))
    curve = curve_of(fit, posterior, volume)
    return Response(
        athlete=athlete,
        sessions=0 if rows is None else len(rows.sessions),
        efforts=0 if rows is None else rows.efforts,
        best_volume=estimate(peak),
        best_volume_half=(float(peak[1]), float(peak[3])),
        gain_pct=estimate(gain),
        hold_volume=estimate(hold),
        advised_volume=advised_volume(volume, curve.change_pct),
        loss_at_standard_pct=estimate(weighted_quantiles(loss, weight, QUANTILES)),
        chance_short=chances["short"],
        chance_long=chances["long"],
        chance_either=chances["either"],
        call=likeliest if firm else "not known",
        reach=reach,
        curve=curve,
        session_peaks=session_peaks,
    )


def _reach(best_volume: float, tried: FloatArray) -> str:
    if best_volume > tried.max():
        return "beyond"
    # A peak nearer to the smallest volume above 0 than to the next cannot be told from no rise.
    smallest = np.unique(tried[tried > NOTHING * tried.max()])[:2]
    edge = float(np.exp(np.log(smallest).mean())) if len(smallest) else 0.0
    return "below" if best_volume < edge else "inside"
