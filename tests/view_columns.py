"""The meaning of the columns of the store's views; those from a table are described there."""

from __future__ import annotations

import re
from collections.abc import Mapping

import duckdb

MEANINGS: Mapping[str, str] = {
    "athlete_standing.pain_day": "Day of the newest session with pain that nobody has lifted.",
    "data_summary.sessions": "Sessions with a usable effort.",
    "data_summary.fade_tests": "Those of them that are fade tests.",
    "data_summary.efforts": "Usable efforts.",
    "data_summary.first_session": "When the earliest of the sessions began.",
    "data_summary.last_session": "When the newest of them began.",
    "data_summary.largest_volume": "Most volume before any of the efforts.",
    "finding_detail.of_latest_fit": "Whether the newest fit of the measure found it.",
    "finding_detail.changed": "Whether the rows were changed since it was found.",
    "finding_detail.decided_finding_id": "The finding that was decided on, of the same rows.",
    "finding_detail.decided_by": "Who decided.",
    "finding_detail.newest": "Whether no later finding is of the same rows.",
    "first_effort_value.first_value": "The value as it was first stored.",
    "first_effort_value.ever_excluded": "Whether it was ever left out.",
    "fitted_effort.hour": "Time of day at which the session began, in hours.",
    "fitted_effort.readiness": "Freshness of the session, as felt.",
    "game_in_force.usual_general_minutes": "General part of the game's plan, minutes.",
    "game_in_force.wave_volume": "Length of the athlete's wave.",
    "import_overview.taken_back_by": "Who took the import back.",
    "import_overview.taken_back_because": "Why it was taken back.",
    "latest_best_volume_change.since": "When the first session after the likeliest change began.",
    "latest_best_volume_change.since_earliest": "Earliest end of its interval.",
    "latest_best_volume_change.since_latest": "Latest end of its interval.",
    "plan_detail.second_game": "Whether it is for a second game of the day.",
    "plan_in_force.second_game": "Whether it is for a second game of the day.",
    "routine_volume.median_volume": "Median, over routine sessions, of each one's median volume.",
    "session_overview.efforts": "All its efforts, those left out among them.",
    "session_overview.excluded_efforts": "Efforts that are left out.",
    "session_overview.largest_volume": "Most volume before any of its efforts.",
    "session_overview.lowest_value": "Lowest value that is used, in the unit of the measure.",
    "session_overview.highest_value": "Highest value that is used, in the unit of the measure.",
    "set_aside_detail.at": "When the file was imported.",
    "set_aside_detail.in_force": "Whether it waits: file not imported anew, row not corrected.",
    "test_detail.efforts": "Efforts typed so far.",
    "trial_detail.block": "Which pair of sessions it is, from 1.",
    "trial_detail.volume": "The length drawn for the session.",
}

COLUMNS = "SELECT column_name, data_type, comment FROM duckdb_columns() WHERE table_name = ?"


def view_rows(store: duckdb.DuckDBPyConnection, view: str) -> list[tuple[str, str, str]]:
    """List a view's columns, each with its type and what it holds.

    Raises
    ------
    KeyError
        A column comes from no table, and `MEANINGS` does not say what it holds.
    """
    tables = [name for name in _behind(store, view) if name not in _queries(store)]
    held = {
        table: {
            column: comment for column, _, comment in store.execute(COLUMNS, [table]).fetchall()
        }
        for table in tables
    }
    found = []
    for column, kind, _ in store.execute(f"{COLUMNS} ORDER BY column_index", [view]).fetchall():
        said = {each[column]: table for table, each in held.items() if column in each}
        if f"{view}.{column}" in MEANINGS or not said:
            told = MEANINGS[f"{view}.{column}"]
        elif len(said) == 1:
            [told] = said
        else:
            told = f"As in {' or '.join(f'[{table}](#{table})' for table in said.values())}."
        found.append((column, kind, told))
    return found


def _queries(store: duckdb.DuckDBPyConnection) -> dict[str, str]:
    return dict(
        store.execute("SELECT view_name, sql FROM duckdb_views() WHERE NOT internal").fetchall()
    )


def _behind(store: duckdb.DuckDBPyConnection, view: str) -> list[str]:
    """List the tables and views that a view is made of, in the order in which it names them."""
    views = _queries(store)
    known = {name for (name,) in store.execute("SELECT table_name FROM duckdb_tables()").fetchall()}
    found: list[str] = []
    for word in re.findall(r"\w+", views[view]):
        if word in found or word == view or word not in known | set(views):
            continue
        found += [word, *(_behind(store, word) if word in views else [])]
    return list(dict.fromkeys(found))
