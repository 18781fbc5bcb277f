from __future__ import annotations

from datetime import date

import pandas as pd

from db.file.frames import fetch
from db.file.store import Store
from db.roster.measures import Measure, list_measures
from db.tables.cells import SESSION_FACTS

STATED_APART = ("kind", "context")
FACTS = tuple(fact for fact in SESSION_FACTS if fact not in STATED_APART)


def efforts(store: Store, measure: str, athlete: str | None = None) -> pd.DataFrame:
    """List efforts of a measure, used or not, in order of time.

    Returns
    -------
    DataFrame
        `athlete`, `effort_id`, `session_id`, `started_at`, `kind`, `context`, `effort`,
        `value`, `volume`, `excluded` (the reason, or missing), `note` and the other facts.
    """
    facts = ", ".join(fact for fact in FACTS if fact != "note")
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT athlete, effort_id, session_id, started_at, kind, context, effort, value, "
            f"volume, excluded, note, {facts} FROM effort_detail "
            "WHERE measure = $1 AND ($2 IS NULL OR athlete = $2) "
            "ORDER BY started_at, athlete, session_id, effort",
            [measure, athlete],
        )


def observations(store: Store, measure: str) -> pd.DataFrame:
    """List the usable efforts of a measure: what a model is fitted to.

    Returns
    -------
    DataFrame
        `athlete`, `session_id`, `started_at`, `context`, `kind`, `effort`, `volume`, `value`,
        and, where known, the session's `general_minutes`, `rest_minutes`,
        `effort_rest_seconds` (between efforts, as done), `ambient_c`, `hour` (of the day it
        started), `days_since_game` and `readiness` (how fresh the athlete felt).
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT * EXCLUDE (measure) FROM fitted_effort WHERE measure = ? "
            "ORDER BY athlete, started_at, session_id, effort",
            [measure],
        )


def observations_of(store: Store, measure: str, day: date, basis: str) -> pd.DataFrame:
    """List the efforts that were usable at the end of a day, as `observations` does.

    Values and exclusions are those of that day, before later corrections. An import that was
    taken back since is left out.

    Parameters
    ----------
    basis : str
        `stored`: efforts stored by then; typed ones count as stored on the day of their
        session. `held`: the sessions up to then, whenever they were stored.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT s.athlete, s.session_id, s.started_at, s.context, s.kind, e.effort, e.volume, "
            "coalesce(c.was.value, e.value) AS value, s.general_minutes, s.rest_minutes, "
            "s.effort_rest_seconds, s.ambient_c, s.days_since_game, "
            "hour(s.started_at) + minute(s.started_at) / 60.0 AS hour, s.freshness AS readiness "
            "FROM session s JOIN effort e ON e.session_id = s.session_id "
            "LEFT JOIN import_batch b ON b.batch_id = e.batch_id LEFT JOIN ("
            "SELECT effort_id, first({'value': old_value, 'excluded': old_excluded} "
            "ORDER BY change_id) AS was FROM effort_change WHERE changed_at::DATE > $2 "
            "GROUP BY effort_id) c ON c.effort_id = e.effort_id "
            "WHERE s.measure = $1 AND s.started_at::DATE <= $2 "
            "AND ($3 = 'held' OR b.imported_at IS NULL OR b.imported_at::DATE <= $2) "
            "AND CASE WHEN c.effort_id IS NULL THEN e.excluded ELSE c.was.excluded END IS NULL "
            "ORDER BY s.athlete, s.started_at, s.session_id, e.effort",
            [measure, day, basis],
        )


def data_summary(store: Store) -> pd.DataFrame:
    """Count the usable data of each athlete and measure.

    Returns
    -------
    DataFrame
        `athlete`, `measure`, `sessions`, `fade_tests`, `efforts`, `first_session`,
        `last_session`, `largest_volume`.
    """
    with store.reading() as cursor:
        return fetch(cursor, "SELECT * FROM data_summary ORDER BY athlete, measure")


def measured(store: Store) -> list[Measure]:
    """List the measures with usable efforts, by name."""
    codes = set(data_summary(store)["measure"])
    return [measure for measure in list_measures(store) if measure.code in codes]


def sessions(
    store: Store, athlete: str | None = None, measure: str | None = None, limit: int | None = None
) -> pd.DataFrame:
    """List sessions, newest first.

    Returns
    -------
    DataFrame
        `session_id`, `athlete`, `name`, `measure`, `started_at`, `kind`, `context`,
        `efforts`, `excluded_efforts`, `largest_volume`, `lowest_value`, `highest_value` (of
        the usable efforts), and the facts.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT * FROM session_overview "
            "WHERE ($1 IS NULL OR athlete = $1) AND ($2 IS NULL OR measure = $2) "
            "ORDER BY started_at DESC, session_id DESC LIMIT $3",
            [athlete, measure, limit],
        )
