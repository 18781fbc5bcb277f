"""A squad's week compared with another: what changed, what was planned, what came in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd

from dashboard.athlete.change_words import LEAST_CHANCE
from dashboard.fits.next_tests import listed_tests, worth_doing
from dashboard.fits.reliability_frames import MeasureReliability, measure_reliability
from dashboard.fits.usual_terms import best_volume_changes, latest_fit
from dashboard.results.plan_outcomes import plan_outcomes
from dashboard.rules.match_days import games_sentence
from dashboard.rules.test_days import AthleteDays, athlete_days
from dashboard.week.fit_moments import (
    FitMoment,
    Week,
    calls_between,
    fit_moments,
    newest_at_end,
)
from db.file.store import Store
from db.fits.findings import open_counts
from db.fits.fit_checks import FitCheck, latest_check
from db.fits.results import KeptFit, newer_data
from db.plans import weeks
from db.roster.measures import Measure, get_measure, list_measures
from modeling.estimate import SDS_TO_END


@dataclass(frozen=True)
class WeekReport:
    """Everything that the page and the sheet of a week show.

    Attributes
    ----------
    measure : Measure
    week, against : Week
    fit : KeptFit
        The newest, in usual terms; levels, tests, changes and warnings come from it.
    moments : tuple of (FitMoment or None)
        The newest fit at the end of the earlier week, and of the later one. If no sessions
        follow the later week, its fit is the newest of all.
    newer : int
        Efforts newer than the newest fit.
    calls : DataFrame
        Active athletes in both of `moments`, by name: `athlete`, `name`, and the other columns
        of `db.fits.results.responses` with the endings `_before` and `_after`.
    changes : DataFrame
        Changes of best volume that most likely began between the start of the earlier week and
        the end of the later one, with a chance of `change_words.LEAST_CHANCE` or more.
    levels : DataFrame
        `week_levels` of the athletes with sessions in both weeks.
    plans : DataFrame
        Rows of `dashboard.results.plan_outcomes.plan_outcomes`.
    tests : DataFrame
        Tests that are expected to bring anything, the most first.
    check : FitCheck or None
        Of the newest fit.
    reliability : MeasureReliability
        Of the sessions as they are saved now.
    findings : dict
        How many findings are still to decide, by measure.
    set_aside, sessions : DataFrame
        From `db.plans.weeks`.
    games : str
        The week's games in a sentence.
    """

    measure: Measure
    week: Week
    against: Week
    fit: KeptFit
    moments: tuple[FitMoment | None, FitMoment | None]
    newer: int
    calls: pd.DataFrame
    changes: pd.DataFrame
    levels: pd.DataFrame
    plans: pd.DataFrame
    tests: pd.DataFrame
    check: FitCheck | None
    reliability: MeasureReliability
    findings: dict[Measure, int]
    set_aside: pd.DataFrame
    sessions: pd.DataFrame
    games: str = ""


def known_weeks(store: Store, measure: str, today: date) -> list[Week]:
    """Return the weeks from the first session to the last one or today, newest first."""
    first, last = weeks.days_known(store, measure) or (today, today)
    newest, oldest = Week.of(max(today, last)), Week.of(first)
    count = (newest.first - oldest.first).days // 7 + 1
    return [Week(newest.first - timedelta(days=7 * back)) for back in range(count)]


def newest_week(store: Store, measure: str, today: date) -> Week:
    """Return the week of the newest session; this week if there is none."""
    known = weeks.days_known(store, measure)
    return Week.of(known[1] if known else today)


def week_report(store: Store, code: str, first: date, against: date) -> WeekReport | None:
    """Return the report on one week compared with another, each given by one of its days.

    None if no curves have been worked out yet.

    Raises
    ------
    BadInput
        If there is no such measure.
    """
    measure, fit = get_measure(store, code), latest_fit(store, code)
    if fit is None:
        return None
    week, other = Week.of(first), Week.of(against)
    kept = fit_moments(store, code)
    early, late = sorted((week, other), key=lambda each: each.first)
    known = weeks.days_known(store, code)
    ended = known is None or known[1] <= late.last
    # Curves made after the last session belong to the last week as well.
    moments = (newest_at_end(kept, early), kept[-1] if ended else newest_at_end(kept, late))
    days = athlete_days(store)
    did = weeks.sessions_between(store, code, week.first, week.last)
    did["game_day"] = _around(days, did["athlete"], did["last_session"])
    plans = plan_outcomes(store, measure, week.last, since=week.first)
    return WeekReport(
        measure,
        week,
        other,
        fit,
        moments,
        newer_data(store, code),
        calls_between(store, code, moments),
        _changes(store, code, early, late),
        week_levels(
            weeks.levels_between(store, code, other.first, other.last),
            weeks.levels_between(store, code, week.first, week.last),
            (fit.day_noise_pct, fit.effort_noise_pct),
            measure.better,
        ),
        plans.assign(game_day=_around(days, plans["athlete"], plans["day"])),
        _tests(store, code),
        latest_check(store, code),
        measure_reliability(store, code),
        _findings(store),
        weeks.set_aside_between(store, week.first, week.last),
        did,
        games_sentence(days, week.first, week.last),
    )


def week_levels(
    before: pd.DataFrame, after: pd.DataFrame, noise_pct: tuple[float, float], better: str
) -> pd.DataFrame:
    """Return how levels differ between two weeks, for athletes with sessions in both.

    Parameters
    ----------
    before, after
        Rows of `db.plans.weeks.levels_between`.
    noise_pct
        Noise of days and noise of efforts, in %; both are taken as independent.
    better
        `higher` or `lower`.

    Returns
    -------
    DataFrame
        `athlete`, `name`, `level_before`, `level_after` (geometric means of the peaks, in the
        unit), `sessions_before`, `sessions_after`, `change_pct` (above 0 is better) with its
        90 % interval `change_pct_low`, `change_pct_high`, and `told`, whether that excludes 0.
        The changes that are largest relative to their error come first.
    """
    both = _levels(before, noise_pct).merge(
        _levels(after, noise_pct).drop(columns="name"), on="athlete", suffixes=("_before", "_after")
    )
    sign = 1.0 if better == "higher" else -1.0
    change = sign * (both["log_level_after"] - both["log_level_before"])
    error = np.sqrt(both["variance_before"] + both["variance_after"])
    half = SDS_TO_END * error
    rows = pd.DataFrame(
        {
            **{name: both[name] for name in ("athlete", "name")},
            "level_before": np.exp(both["log_level_before"]),
            "level_after": np.exp(both["log_level_after"]),
            **{name: both[name] for name in ("sessions_before", "sessions_after")},
            "change_pct": 100 * np.expm1(change),
            "change_pct_low": 100 * np.expm1(change - half),
            "change_pct_high": 100 * np.expm1(change + half),
            "told": change.abs() > half,
        }
    )
    in_errors = np.abs(np.asarray(change / error, dtype=float))
    return rows.iloc[np.argsort(-in_errors, kind="stable")].reset_index(drop=True)


def _levels(rows: pd.DataFrame, noise_pct: tuple[float, float]) -> pd.DataFrame:
    """Return each athlete's mean log level, the variance of its error, and how many sessions."""
    day, effort = (each / 100.0 for each in noise_pct)
    of = rows.assign(
        log_level=np.log(rows["peak_value"]),
        variance=day**2 + effort**2 / rows["efforts"],
    ).groupby(["athlete", "name"], as_index=False)
    found = of.agg(
        log_level=("log_level", "mean"),
        variance=("variance", "mean"),
        sessions=("session_id", "size"),
    )
    return found.assign(variance=found["variance"] / found["sessions"])


def _changes(store: Store, code: str, early: Week, late: Week) -> pd.DataFrame:
    """Return the changes of best volume that most likely began in these weeks or between them."""
    rows = best_volume_changes(store, code, least_chance=LEAST_CHANCE)
    begun = pd.to_datetime(rows["since"]).dt.date
    within = (begun >= early.first) & (begun <= late.last)
    return rows[rows["active"].astype(bool) & within].reset_index(drop=True)


def _around(days: Mapping[str, AthleteDays], athletes: pd.Series, moments: pd.Series) -> list[str]:
    """Return where each moment lies between the games of its athlete."""
    return [
        "" if pd.isna(at) else days[athlete].around(pd.Timestamp(at).date())
        for athlete, at in zip(athletes, moments, strict=True)
    ]


def _tests(store: Store, code: str) -> pd.DataFrame:
    return worth_doing(listed_tests(store, code))


def _findings(store: Store) -> dict[Measure, int]:
    counts = open_counts(store)
    return {each: counts.get(each.code, 0) for each in list_measures(store)}
