"""What happened on some days: sessions, plans and their outcomes, rows set aside, fits."""

from __future__ import annotations

from datetime import date, timedelta

import pandas as pd

from db.file.frames import fetch
from db.file.store import Store
from db.plans.outcomes import START_VALUES

__all__ = [
    "days_known",
    "fit_moments",
    "fits_a_week_apart",
    "levels_between",
    "plans_between",
    "sessions_between",
    "set_aside_between",
]

WEEK = timedelta(days=7)


def days_known(store: Store, measure: str) -> tuple[date, date] | None:
    """Return the days of the first and the last session of a measure; None without any."""
    with store.reading() as cursor:
        row = cursor.execute(
            "SELECT min(first_session)::DATE, max(last_session)::DATE FROM data_summary "
            "WHERE measure = ? HAVING count(*) > 0",
            [measure],
        ).fetchone()
    return None if row is None else (row[0], row[1])


def fit_moments(store: Store, measure: str) -> pd.DataFrame:
    """List the fits of a measure with their times, the oldest first.

    Returns
    -------
    DataFrame
        `fit_id`, `fitted_at` and `data_basis`; a fit of an earlier day counts as made on that
        day, see `db.fits.results.FitFacts`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT fit_id, coalesce(data_until::TIMESTAMPTZ, fitted_at) AS fitted_at, data_basis "
            "FROM fit WHERE measure = ? ORDER BY fitted_at, fit_id",
            [measure],
        )


def fits_a_week_apart(store: Store, measure: str) -> list[int]:
    """Return the newest fit of a measure, after the newest one at least a week older, if any.

    Everything that says what has changed compares these two.
    """
    kept = fit_moments(store, measure)
    older = kept[kept["fitted_at"] <= kept["fitted_at"].max() - WEEK]
    return [int(number) for rows in (older, kept) for number in rows["fit_id"].tail(1)]


def sessions_between(store: Store, measure: str, first: date, last: date) -> pd.DataFrame:
    """List the active athletes and what each did within some days, by name.

    Returns
    -------
    DataFrame
        `athlete`, `name`, `sessions`, `fade_tests`, `efforts` (usable), `last_session` (missing
        without any). A row per active athlete.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT a.athlete, a.name, count(DISTINCT o.session_id) AS sessions, "
            "count(DISTINCT o.session_id) FILTER (o.kind = 'fade') AS fade_tests, "
            "count(o.session_id) AS efforts, max(o.started_at) AS last_session "
            "FROM athlete a LEFT JOIN observation o ON o.athlete = a.athlete AND o.measure = ? "
            "AND o.started_at::DATE BETWEEN ? AND ? WHERE a.active GROUP BY ALL ORDER BY name, 1",
            [measure, first, last],
        )


def levels_between(store: Store, measure: str, first: date, last: date) -> pd.DataFrame:
    """List what the newest fit says about the sessions of active athletes within some days.

    Returns
    -------
    DataFrame
        `athlete`, `name`, `session_id`, `peak_value`, `efforts` (usable); a row per session.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT p.athlete, a.name, p.session_id, p.peak_value, count(*) AS efforts "
            "FROM latest_session_peak p JOIN athlete a ON a.athlete = p.athlete "
            "JOIN effort e ON e.session_id = p.session_id AND e.excluded IS NULL "
            "WHERE a.active AND p.measure = ? AND p.started_at::DATE BETWEEN ? AND ? "
            "GROUP BY ALL ORDER BY a.name, p.athlete, p.session_id",
            [measure, first, last],
        )


def plans_between(store: Store, measure: str, first: date, last: date) -> pd.DataFrame:
    """List what is in force for some days, with the value that each warm-up led to.

    Sessions of a trial are left out: their lengths were drawn, and say nothing about plans. On a
    day with two games, each game has a row of its own.

    Returns
    -------
    DataFrame
        `day`, `athlete`, `name`, `advised_volume`, `chosen_volume`, `done_volume`, `start_value`
        (as recorded, else the first usable effort of the day by the rule of
        `db.plans.outcomes.start_values`) and `peak_value` (of that session by the newest fit);
        values that are not known are missing.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT p.day, p.athlete, p.name, p.advised_volume, p.chosen_volume, p.done_volume, "
            "coalesce(p.outcome, s.value) AS start_value, k.peak_value FROM plan_in_force p "
            f"LEFT JOIN ({START_VALUES}) s "
            "ON s.athlete = p.athlete AND s.measure = p.measure AND s.day = p.day "
            "AND s.second_game = p.second_game "
            "LEFT JOIN latest_session_peak k ON k.session_id = s.session_id "
            "ANTI JOIN trial_session t ON t.plan_id = p.plan_id "
            "WHERE p.measure = $1 AND p.day BETWEEN $2 AND $3 "
            "ORDER BY p.day, p.name, p.athlete, p.second_game",
            [measure, first, last],
        )


def set_aside_between(store: Store, first: date, last: date) -> pd.DataFrame:
    """Count the rows still set aside from files that were imported within some days, in UTC.

    Returns
    -------
    DataFrame
        `file`, `day` of the import, `rows`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT file, (\"at\" AT TIME ZONE 'UTC')::DATE AS day, count(*) AS rows "
            "FROM set_aside_detail WHERE in_force "
            "AND (\"at\" AT TIME ZONE 'UTC')::DATE BETWEEN ? AND ? GROUP BY ALL "
            "ORDER BY day, file",
            [first, last],
        )
