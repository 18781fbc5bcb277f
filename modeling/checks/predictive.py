"""Does the fitted model describe the data it was fitted to? Two checks.

**By volume.** Efforts are put into bands of volume. In each band their mean difference from the
athletes' own expected peaks of the day is compared with what the fitted curves say. The curves
and the days were learned from the same efforts, so residuals are smaller than the noise: with
y = signal + e, e normal and any distribution of the signal, ::

    Var(y - E[signal | y]) = Var(e) - E[Var(signal | y)]

because the covariance of e and E[signal | y] is the signal's posterior variance (Stein 1981;
Efron 2011). The interval of a band therefore comes from its noise less what curves, levels and
days have taken up. A plain posterior predictive check (Gelman, Meng & Stern 1996) would add the
curves' uncertainty instead, and nearly every band would pass (Bayarri & Berger 2000). Efforts
count by their weights, as in the fit, so a slipped effort does not decide a band. The variance
of such a mean is (df + 3) / (df + 1) times the normal's (the information in a t distribution:
Lange, Little & Taylor 1989).

**By session.** Each session is predicted from everything else that is known about its athlete
(`leave_out`). The result is the place of the observed mean in that prediction, from 0 to 1: the
probability integral transform. If the model is right, places are uniform (Dawid 1984; Gneiting,
Balabdaoui & Raftery 2007), however much or little is known about an athlete. If they pile up at
both ends, the model is too sure; if they pile up in the middle, it is not sure enough.

The squad's distribution and the noise sizes stay at their fitted values, which makes both
checks slightly lenient where athletes are few.

References
----------
Bayarri & Berger (2000), P values for composite null models, JASA 95, 1127-1142.
Dawid (1984), Present position and potential developments: statistical theory: the prequential
approach, JRSS A 147, 278-292.
Efron (2011), Tweedie's formula and selection bias, JASA 106, 1602-1614.
Gelman, Meng & Stern (1996), Posterior predictive assessment of model fitness via realized
discrepancies, Statistica Sinica 6, 733-807.
Gneiting, Balabdaoui & Raftery (2007), Probabilistic forecasts, calibration and sharpness,
JRSS B 69, 243-268.
Lange, Little & Taylor (1989), Robust statistical modeling using the t distribution, JASA 84,
881-896.
Stein (1981), Estimation of the mean of a multivariate normal distribution, Annals of
Statistics 9, 1135-1151.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binom, norm
from threadpoolctl import threadpool_limits

from modeling.checks.leave_out import Evidence, SessionPlaces, evidence_of, session_places
from modeling.estimate import percent
from modeling.fit.squad_fit import SquadFit

__all__ = [
    "FitCheck",
    "SessionCheck",
    "VolumeBand",
    "check_fit",
    "tail_factor",
    "volume_bands",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

MOST_BANDS = 12
FEWEST_IN_BAND = 20
TENTHS = 10
SHARE = 0.9
"""Share that intervals hold."""

FEWEST_DRAWS = 20.0
"""A prediction that rests on fewer effective draws than this is not counted."""

LEAST_LEFT = 0.01
"""Smallest share of a band's noise that is taken to be left after the fit."""

ENDS = np.array([0.5 - SHARE / 2, 0.5 + SHARE / 2])


@dataclass(frozen=True)
class VolumeBand:
    """Efforts at about the same volume: observed against expected.

    Differences are taken from the athlete's own expected peak in that session, in %.

    Attributes
    ----------
    efforts : int
    lowest_volume, highest_volume, mean_volume : float
        In the measure's volume unit.
    observed_pct : float
        Mean difference observed.
    expected_pct : float
        Mean difference according to the fitted curves.
    low_pct, high_pct : float
        Interval that holds the observed difference with a chance of 90 % if the model is right.
    """

    efforts: int
    lowest_volume: float
    highest_volume: float
    mean_volume: float
    observed_pct: float
    expected_pct: float
    low_pct: float
    high_pct: float

    @property
    def inside(self) -> bool:
        """Whether the observed mean is inside its interval."""
        return self.low_pct <= self.observed_pct <= self.high_pct


@dataclass(frozen=True)
class SessionCheck:
    """Where sessions fell in the predictions from the athletes' other sessions.

    Attributes
    ----------
    sessions, inside : int
        Sessions predicted, and how many of their means are inside the 90 % interval. An athlete's
        only session cannot be predicted and is left out, as are sessions whose prediction rests
        on too few effective draws.
    efforts, efforts_inside : int
        The same for the single efforts of these sessions.
    places : array of shape (sessions,)
        Probability below each session's mean.
    counts : array of shape (10,)
        Sessions by tenth of `places`.
    fewest, most : int
        Interval that holds each of `counts` with a chance of at least 90 % if the model is right.
    """

    sessions: int
    inside: int
    efforts: int
    efforts_inside: int
    places: FloatArray
    counts: IntArray
    fewest: int
    most: int


@dataclass(frozen=True)
class FitCheck:
    """Both checks of a fit."""

    bands: tuple[VolumeBand, ...]
    sessions: SessionCheck


def check_fit(fit: SquadFit, known: Sequence[Evidence] | None = None) -> FitCheck:
    """Check a fit of `ResponseModel` against its own data, with the same result every time.

    `known` is the result of `evidence_of(fit)`, if you already have it.
    """
    with threadpool_limits(1):
        known = evidence_of(fit) if known is None else known
        places = [
            session_places(fit, each, np.random.default_rng(number))
            for number, each in enumerate(known)
        ]
        return FitCheck(_check_bands(fit, known), _check_sessions(known, places))


def volume_bands(volume: FloatArray) -> FloatArray:
    """Cut volumes into bands of about equal counts and give the highest volume of each.

    There are at most `MOST_BANDS` bands of at least `FEWEST_IN_BAND` volumes each (one band if
    there are fewer volumes). Equal volumes always share a band.
    """
    least = max(FEWEST_IN_BAND, -(-len(volume) // MOST_BANDS))
    tops, held = [], 0
    distinct, counts = np.unique(volume, return_counts=True)
    for top, count in zip(distinct, counts, strict=True):
        held += count
        if held >= least:
            tops.append(float(top))
            held = 0
    if held:
        # The rest is too little for a band of its own, so it joins the last one.
        tops[-1:] = [float(distinct[-1])]
    return np.array(tops)


def _check_bands(fit: SquadFit, known: Sequence[Evidence]) -> tuple[VolumeBand, ...]:
    volume = np.concatenate([each.rows.volume for each in known])
    tops = volume_bands(volume)
    band = np.searchsorted(tops, volume)
    weight = np.concatenate([each.model.weight for each in known])
    precision = np.asarray(np.bincount(band, weight), dtype=float)
    parts = [_band_part(each, tops, precision) for each in known]
    observed, expected, taken_up = (np.sum(part, axis=0) for part in zip(*parts, strict=True))
    noise = 1.0 / precision
    # The noise that sampled curves take up is itself uncertain, and never all of it.
    left = np.maximum(noise - taken_up, LEAST_LEFT * noise)
    spread = np.sqrt(tail_factor(fit.tails[0]) * left)
    low, high = expected + norm.ppf(ENDS)[:, None] * spread
    return tuple(
        VolumeBand(
            efforts=int(np.sum(band == b)),
            lowest_volume=float(volume[band == b].min()),
            highest_volume=float(top),
            mean_volume=float(np.clip(volume[band == b].mean(), volume[band == b].min(), top)),
            observed_pct=float(percent(observed[b])),
            expected_pct=float(percent(expected[b])),
            low_pct=float(percent(low[b])),
            high_pct=float(percent(high[b])),
        )
        for b, top in enumerate(tops)
    )


def _band_part(
    each: Evidence, tops: FloatArray, precision: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """One athlete's part in each band's observed and expected mean, and in what was taken up.

    What was taken up is the posterior variance of the band's mean signal: that of curve and
    session effect together over the draws, plus that of the session effects given a draw.
    """
    rows, weight = each.rows, each.model.weight
    band = np.searchsorted(tops, rows.volume)
    share = np.zeros((rows.efforts, len(tops)))
    share[np.arange(rows.efforts), band] = weight / precision[band]
    curve = each.curve[:, : each.own_draws]
    model = each.model
    spot = model.spots.of_effort
    residual = each.centred[:, None] - curve
    deviation = model.deviation(model.pull(model.spot_means(residual)))[spot]
    curve, effect = curve + deviation, model.effects(residual)[spot] - deviation
    of_spot = model.spots.sums(share)
    given_draw = (of_spot * (model.shrink @ of_spot)).sum(axis=0)
    taken_up = (share.T @ (curve + effect)).var(axis=1) + given_draw
    return (
        share.T @ (each.centred - effect.mean(axis=1)),
        share.T @ curve.mean(axis=1),
        # Where two shapes are possible a variance can exceed the noise, though not on average.
        np.minimum(taken_up, (share**2).T @ (1.0 / weight)),
    )


def tail_factor(df: float) -> float:
    """Ratio of the variance of a weighted mean of t noise to what its weights alone would give."""
    return 1.0 if np.isinf(df) else (df + 3.0) / (df + 1.0)


def _check_sessions(known: Sequence[Evidence], places: Sequence[SessionPlaces]) -> SessionCheck:
    usable = [
        (place.effective_draws >= FEWEST_DRAWS) & (len(place.session) > 1) for place in places
    ]
    of_sessions = np.concatenate([p.session[u] for p, u in zip(places, usable, strict=True)])
    of_efforts = np.concatenate(
        [
            place.effort[use[each.rows.session_index]]
            for each, place, use in zip(known, places, usable, strict=True)
        ]
    )
    count = len(of_sessions)
    fewest, most = binom.ppf(ENDS, count, 1.0 / TENTHS)
    return SessionCheck(
        sessions=count,
        inside=_inside(of_sessions),
        efforts=len(of_efforts),
        efforts_inside=_inside(of_efforts),
        places=of_sessions,
        counts=np.histogram(of_sessions, TENTHS, (0.0, 1.0))[0],
        fewest=int(fewest),
        most=int(most),
    )


def _inside(places: FloatArray) -> int:
    return int(np.sum((places >= ENDS[0]) & (places <= ENDS[1])))
