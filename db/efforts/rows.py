from __future__ import annotations

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
        and of the session, where known, `general_minutes`, `rest_minutes`, `ambient_c`, `hour`
        (of the day it started), `days_since_game` and `readiness` (how fresh the athlete felt).
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT * EXCLUDE (measure) FROM fitted_effort WHERE measure = ? "
            "ORDER BY athlete, started_at, session_id, effort",
            [measure],
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
    """List the measures that somebody has usable efforts of, by name."""
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
