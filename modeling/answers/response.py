"""One athlete's response, as frozen values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from modeling.curve.advice import advised_volume
from modeling.curve.curve_draws import ADVICE_DRAWS
from modeling.efforts.data_range import NOTHING
from modeling.estimate import BAND, Estimate, drawn_quantiles, estimate, percent
from modeling.fit.drawn import evenly
from modeling.fit.posterior import Posterior
from modeling.fit.squad_fit import SquadFit

__all__ = ["Curve", "Response", "curve_volumes", "respond"]

FloatArray = NDArray[np.float64]

BEST = 0
FEWEST_VOLUMES = 3

LEAST_SHARE = 1e-12
"""Smallest share of the peak that a log change can express."""


@dataclass(frozen=True)
class Curve:
    """Expected change from the peak, with its 90 % band.

    Attributes
    ----------
    volume : array of shape (n_volumes,)
        Rising, in effect.
    change_pct : array of shape (n_volumes,)
        Expected change, 0 or less.
    change_pct_low, change_pct_high : arrays of shape (n_volumes,)
        The band: it holds the change with a chance of at least 90 %, and always the expected one.

    Notes
    -----
    Units: the measure's volume unit, and % of the own peak.
    Missing values: none.
    Errors: reading it raises nothing.
    Source: means and quantiles of the drawn curves, see `modeling.fit.drawn`.
    """

    volume: FloatArray
    change_pct: FloatArray
    change_pct_low: FloatArray
    change_pct_high: FloatArray

    def log_change(self, volume: FloatArray) -> FloatArray:
        """Give the expected log change from the peak at any volumes.

        Parameters
        ----------
        volume : array of shape (n,)
            In effect; beyond the curve's last volume its last value is used.

        Returns
        -------
        array of shape (n,)
            Log of performance relative to the peak.
        """
        share = np.interp(volume, self.volume, self.change_pct) / 100.0
        # Far beyond the peak the share left can be 0 or, by rounding, below.
        return np.log1p(np.maximum(share, LEAST_SHARE - 1.0))


@dataclass(frozen=True)
class Response:
    """One athlete's warm-up response.

    Attributes
    ----------
    athlete : object
    sessions, efforts : int
        Counts behind the response.
    best_volume : Estimate
        Where the curve peaks, in the measure's volume unit.
    best_volume_half : tuple of float
        25 % and 75 % quantiles of the best volume.
    gain_pct : Estimate
        From cold to peak, in % of the cold value.
    hold_volume : Estimate
        Volume from the peak until performance is down 10 %.
    advised_volume : float
        Volume advised for one best effort.
    loss_at_standard_pct : Estimate
        Performance lost at the standard volume, in % of the peak.
    chance_short, chance_long, chance_either : float
        Chances that the athlete is better off with less, better off with more, or within the
        smallest worthwhile change of the peak at the standard. They sum to 1.
    call : {"short", "long", "either", "not known"}
    good_range : tuple of float or None
        Ends of the good range: at these volumes the chance is at least `firm_chance` that no more
        than the smallest worthwhile change is lost. None if there is no such volume, or with too
        little data of the athlete's own. The standard is inside exactly when the call is "either".
    reach : {"inside", "below", "beyond"} or None
        Where the peak lies relative to the volumes tried; None without data.
    curve : Curve
    session_peaks : mapping of object to float
        For each session, the athlete's expected value at the peak on that day.

    Notes
    -----
    Units: volumes in effect, in the measure's volume unit (`ResponseModel.to_frame` has them as
    done); performance in % of the own peak; session peaks in the unit of the values; chances 0
    to 1.
    Missing values: `good_range` and `reach` are None where they are not known yet; an athlete
    without data has the squad's numbers, with 0 sessions.
    Errors: reading it raises nothing.
    Source: shares and quantiles of the athlete's drawn curves, see `modeling.fit.drawn`.
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
    good_range: tuple[float, float] | None
    reach: str | None
    curve: Curve
    session_peaks: Mapping[object, float]

    @property
    def good_from(self) -> float | None:
        """Lower end of the good range; None where there is none."""
        return None if self.good_range is None else self.good_range[0]

    @property
    def good_to(self) -> float | None:
        """Upper end of the good range; None where there is none."""
        return None if self.good_range is None else self.good_range[1]


def curve_volumes(fit: SquadFit, standard_volume: float | None) -> FloatArray:
    """Volumes to draw curves at: from 0 to 30 % past the largest tried, closer together near 0.

    They are whole where all volumes tried are whole, so that advice is in whole efforts.
    """
    tried = np.concatenate([rows.volume for rows in fit.rows])
    small, last = fit.data.lowest_volume, 1.3 * fit.data.highest_volume
    volume = small * np.expm1(np.linspace(0.0, np.log1p(last / small), 110))
    if np.all(tried == np.round(tried)):
        volume = np.round(volume)
    extra = [] if standard_volume is None else [standard_volume]
    return np.unique(np.concatenate([volume, extra]))


def curve_of(fit: SquadFit, posterior: Posterior, volume: FloatArray) -> Curve:
    """Give the expected curve and band of one posterior."""
    return _curve(volume, percent(fit.curves(posterior, volume)))


def _curve(volume: FloatArray, changes: FloatArray) -> Curve:
    mean = changes.mean(axis=1)
    low, high = np.quantile(changes, BAND, axis=1)
    # If a few curves fall far below the rest, the mean lies outside the quantiles.
    return Curve(volume, mean, np.minimum(low, mean), np.maximum(high, mean))


def good_range(
    volume: FloatArray, chance: FloatArray, sure: float, standard_volume: float
) -> tuple[float, float] | None:
    """Find the good range: the volumes at which little enough is lost, surely enough.

    Parameters
    ----------
    volume : array of shape (n,)
        Rising; the standard is one of them.
    chance : array of shape (n,)
        Chance that no more than the smallest worthwhile change is lost at each volume.
    sure : float
        Chance that a volume needs to be good.
    standard_volume : float

    Returns
    -------
    tuple of float or None
        Ends of the run of good volumes around the standard or, if the standard is not good, around
        the volume with the highest chance. Between volumes the chance is taken to be linear.
    """
    at = int(np.searchsorted(volume, standard_volume))
    middle = at if chance[at] >= sure else int(chance.argmax())
    if chance[middle] < sure:
        return None
    short = np.flatnonzero(chance < sure)
    below, above = short[short < middle], short[short > middle]
    first = volume[0] if len(below) == 0 else _crossing(volume, chance, below[-1], sure)
    last = volume[-1] if len(above) == 0 else _crossing(volume, chance, above[0] - 1, sure)
    return float(first), float(last)


def _crossing(volume: FloatArray, chance: FloatArray, i: int, sure: float) -> float:
    """Where the chance passes a level between volumes i and i + 1."""
    share = (sure - chance[i]) / (chance[i + 1] - chance[i])
    return float(volume[i] + share * (volume[i + 1] - volume[i]))


@dataclass(frozen=True)
class Asked:
    """Settings that responses are worked out with.

    Attributes
    ----------
    volume : array of shape (n_volumes,)
        Volumes of the curves, rising; the standard is one of them.
    standard_volume, worthwhile_pct, firm_chance : float
        As in `ResponseModel`, but with the standard volume in effect.
    """

    volume: FloatArray
    standard_volume: float
    worthwhile_pct: float
    firm_chance: float


def respond(fit: SquadFit, posterior: Posterior, asked: Asked) -> Response:
    """Turn a posterior into a response; without rows its athlete is None."""
    drawn, rows = posterior.draws, posterior.rows
    volume, standard_volume = asked.volume, asked.standard_volume
    worthwhile_pct, firm_chance = asked.worthwhile_pct, asked.firm_chance
    changes = percent(fit.curves(posterior, volume))
    lost = -changes[np.searchsorted(volume, standard_volume)]
    matters = lost > worthwhile_pct
    less = drawn.best < standard_volume
    chances = {
        "short": float(np.mean(matters & less)),
        "long": float(np.mean(matters & ~less)),
        "either": float(np.mean(~matters)),
    }
    likeliest = max(chances, key=lambda name: chances[name])
    peak = drawn_quantiles(drawn.best)
    # Efforts at fewer than three volumes cannot show a rise and a fall, and a call must not rest
    # on the squad alone.
    own_evidence = rows is not None and len(np.unique(rows.volume)) >= FEWEST_VOLUMES
    reach = None if rows is None else _reach(float(peak[2]), rows.volume)
    # "Short" needs a fall that was seen, and "long" a rise.
    unseen = (likeliest, reach) in {("short", "beyond"), ("long", "below")}
    firm = own_evidence and not unseen and chances[likeliest] >= firm_chance
    curve = _curve(volume, changes)
    fine = np.mean(changes >= -worthwhile_pct, axis=1)
    return Response(
        athlete=None if rows is None else rows.athlete,
        sessions=0 if rows is None else len(rows.sessions),
        efforts=0 if rows is None else rows.efforts,
        best_volume=estimate(peak),
        best_volume_half=(float(peak[1]), float(peak[3])),
        gain_pct=estimate(drawn_quantiles(percent(drawn.gain))),
        hold_volume=estimate(drawn_quantiles(drawn.hold)),
        advised_volume=advised_volume(volume, curve.change_pct),
        # Use only the curves that are saved, so that later computations give the same.
        loss_at_standard_pct=estimate(drawn_quantiles(lost[evenly(ADVICE_DRAWS)])),
        chance_short=chances["short"],
        chance_long=chances["long"],
        chance_either=chances["either"],
        call=likeliest if firm else "not known",
        good_range=(
            good_range(volume, fine, firm_chance, standard_volume) if own_evidence else None
        ),
        reach=reach,
        curve=curve,
        session_peaks={},
    )


def _reach(best_volume: float, tried: FloatArray) -> str:
    if best_volume > tried.max():
        return "beyond"
    # A peak nearer to the smallest volume above 0 than to the next may as well be no rise.
    smallest = np.unique(tried[tried > NOTHING * tried.max()])[:2]
    edge = float(np.exp(np.log(smallest).mean())) if len(smallest) else 0.0
    return "below" if best_volume < edge else "inside"
