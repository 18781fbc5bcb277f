"""How well a measure repeats from session to session, and which changes it can therefore show.

Everything is worked out twice: in the unit of the values, and in % from their logarithms, because
noise and changes in performance grow with its level.

References
----------
Hopkins (2000), Measures of reliability in sports medicine and science, Sports Med 30:1-15.
Weir (2005), Quantifying test-retest reliability using the intraclass correlation coefficient
and the SEM, J Strength Cond Res 19:231-240.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.stats import t

from modeling.errors import ModelError
from modeling.repeat.method_agreement import HOLDS, Agreement, agreement
from modeling.repeat.variance_components import (
    CONFIDENCE,
    Bounded,
    Components,
    Design,
    percent_of,
)

__all__ = ["Reliability", "TrialChange", "reliability", "trend"]

FloatArray = NDArray[np.float64]

SMALLEST_SHARE = 0.2
"""Smallest worthwhile change in standard deviations between athletes (Hopkins 2004)."""
FEWEST_ATHLETES = 3
"""Trials with fewer athletes are not shown."""


@dataclass(frozen=True)
class TrialChange:
    """How one trial differs from the first, in %."""

    trial: int
    change_pct: Bounded


@dataclass(frozen=True)
class Reliability:
    """How well a measure repeats; `_pct` is in % from logarithms, the rest in the values' unit.

    Attributes
    ----------
    athletes, sessions : int
        Counts behind the numbers.
    typical_error, typical_error_pct : Bounded
        Standard deviation of an athlete's sessions about their own level, with trials taken off;
        the second is the coefficient of variation.
    icc_3_1, icc_2_1 : Bounded
        Intraclass correlations of single sessions, with fixed trials and with random ones.
    between_athletes, between_athletes_pct : Bounded
        Standard deviation of the athletes' own levels, free of error.
    smallest_worthwhile, smallest_worthwhile_pct : Bounded
        A fifth of that; 0 if no difference between athletes was found.
    minimal_detectable, minimal_detectable_pct : Bounded
        Two sessions differ by more than this one time in twenty although nothing has changed.
    trend_pct : Bounded
        Change from one session to the next over all trials: learning, or better form.
    trials : tuple of TrialChange
        Trials with at least three athletes.
    pairs : Agreement or None
        First session against second, third against fourth and so on; None with fewer than two
        pairs.
    """

    athletes: int
    sessions: int
    typical_error: Bounded
    typical_error_pct: Bounded
    icc_3_1: Bounded
    icc_2_1: Bounded
    between_athletes: Bounded
    between_athletes_pct: Bounded
    smallest_worthwhile: Bounded
    smallest_worthwhile_pct: Bounded
    minimal_detectable: Bounded
    minimal_detectable_pct: Bounded
    trend_pct: Bounded
    trials: tuple[TrialChange, ...]
    pairs: Agreement | None


def reliability(sessions: pd.DataFrame, columns: Sequence[str]) -> dict[str, Reliability]:
    """Compare athletes' sessions with each other; intervals are 90 %.

    Parameters
    ----------
    sessions : DataFrame
        A row per session: `athlete`, `trial` (1, 2, 3 ... within the athlete), and the values,
        above 0, with nothing missing. Athletes may have different numbers of sessions.
    columns : sequence of str
        Columns of values, such as the mean and the best of a session.

    Returns
    -------
    dict of str to Reliability
        By column.

    Raises
    ------
    ModelError
        There are not two athletes with two sessions each, or no athlete's sessions differ.
    """
    rows = sessions.sort_values(["athlete", "trial"])
    try:
        design = Design.of(rows["athlete"], rows["trial"])
    except ValueError as too_few:
        raise ModelError(str(too_few)) from too_few
    return {column: _of_values(rows, column, design) for column in columns}


def _of_values(rows: pd.DataFrame, value: str, design: Design) -> Reliability:
    values, logs = rows[value].astype(float), np.log(rows[value].astype(float))
    raw, log = design.analyse(values), design.analyse(logs)
    if raw.mean_square_error <= np.finfo(float).eps * float(values.mean()) ** 2:
        raise ModelError("The sessions of each athlete do not differ at all.")
    between, between_log = raw.between_sd(), log.between_sd()
    error, error_log = raw.error_sd(), log.error_sd()
    apart = HOLDS * sqrt(2.0)
    return Reliability(
        athletes=raw.athletes,
        sessions=len(rows),
        typical_error=error,
        typical_error_pct=percent_of(error_log),
        icc_3_1=raw.icc_3_1(),
        icc_2_1=raw.icc_2_1(),
        between_athletes=between,
        between_athletes_pct=percent_of(between_log),
        smallest_worthwhile=between.times(SMALLEST_SHARE),
        smallest_worthwhile_pct=percent_of(between_log.times(SMALLEST_SHARE)),
        minimal_detectable=error.times(apart),
        minimal_detectable_pct=percent_of(error_log.times(apart)),
        trend_pct=percent_of(trend(rows.assign(log=logs), "log", log)),
        trials=_trials(log, rows["trial"]),
        pairs=_pairs(rows, value),
    )


def trend(
    sessions: pd.DataFrame, value: str, parts: Components, confidence: float = CONFIDENCE
) -> Bounded:
    """Change per trial within athletes: the slope of all sessions about their athletes' means.

    Its error has two sources. Athletes: how much their own slopes differ, but no less than the
    typical error would give; without this, form that drifts for weeks would make it too sure.
    Trials: how far the trials' means lie off a line, since more athletes do not average away what
    moves them all. Degrees of freedom are by Satterthwaite. With two trials each, the interval is
    the paired t interval of the change in the mean.

    Parameters
    ----------
    sessions : DataFrame
        Columns `athlete`, `trial` and the value; at least two athletes with two trials.
    value : str
        Column of the values.
    parts : Components
        The analysis of these values.
    confidence : float
        Confidence of the interval.
    """
    at = np.unique(sessions["trial"].astype(float))
    pull = parts.trial_information @ at
    weight = float(at @ pull)
    slope = float(pull @ parts.trial_effect) / weight
    own, athletes = _athletes_share(sessions, value, slope)
    own = max(own, parts.mean_square_error * weight)
    shared, spare = 0.0, parts.df_trials - 1
    if spare:
        off = parts.trial_effect - slope * at
        excess = float(off @ parts.trial_information @ off) / spare - parts.mean_square_error
        shared = max(excess, 0.0) / parts.athletes_per_trial * float(pull @ pull)
    df = (own + shared) ** 2 / (own**2 / (athletes - 1) + shared**2 / max(spare, 1))
    reach = float(t.ppf(0.5 + confidence / 2, df)) * sqrt(own + shared) / weight
    return Bounded(slope, slope - reach, slope + reach)


def _athletes_share(sessions: pd.DataFrame, value: str, slope: float) -> tuple[float, int]:
    """Return the variance of the summed products of trial and value, and the athletes behind it."""
    whose = sessions.groupby("athlete")
    when = sessions["trial"].astype(float) - whose["trial"].transform("mean")
    off = sessions[value] - whose[value].transform("mean") - slope * when
    repeated = whose["trial"].transform("size") > 1
    sums = (when * off)[repeated].groupby(sessions["athlete"]).sum().to_numpy(float)
    count = len(sums)
    return float(sums @ sums) * count / (count - 1), count


def _trials(log: Components, trial: pd.Series) -> tuple[TrialChange, ...]:
    counts = trial.value_counts().sort_index()
    reach = float(t.ppf(0.5 + CONFIDENCE / 2, log.df_error)) * sqrt(log.mean_square_error)
    return tuple(
        TrialChange(int(at), percent_of(Bounded(effect, effect - width, effect + width)))
        for at, count, effect, width in zip(
            counts.index, counts, log.trial_effect, reach * log.trial_spread, strict=True
        )
        if count >= FEWEST_ATHLETES
    )


def _pairs(rows: pd.DataFrame, value: str) -> Agreement | None:
    """Pair sessions in order, so that each one is in one difference only."""
    first, second = paired(rows, value)
    return agreement(first, second) if len(first) > 1 else None


def paired(rows: pd.DataFrame, value: str) -> tuple[FloatArray, FloatArray]:
    """Return the first and second values of each athlete's pairs of sessions."""
    numbered = rows.assign(pair=(rows["trial"].astype(int) + 1) // 2)
    pairs = numbered.groupby(["athlete", "pair"])[value]
    full = pairs.size() == 2
    return pairs.first()[full].to_numpy(float), pairs.last()[full].to_numpy(float)
