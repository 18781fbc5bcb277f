"""Merge two entries of the same athlete, and undo it.

DuckDB cannot move a session to another athlete in place because efforts refer to it, so the
whole store is rewritten, or nothing. Curves stay with the entry they were worked out for.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import duckdb

from db.errors import BadInput
from db.file.frames import fetch_number
from db.file.opening import quoted
from db.file.rewriting import Rewrite, rewrite
from db.file.store import Store

__all__ = [
    "Merge",
    "MergePreview",
    "merge_athletes",
    "merge_preview",
    "merged_codes",
    "merges",
    "part_athletes",
]

_KEYS = {
    "session": "session_id",
    "plan": "plan_id",
    "lapsed_plan": "plan_id",
    "second_game_plan": "plan_id",
    "plan_outcome_change": "change_id",
    "outcome_manner": "change_id",
    "game_athlete": "game_id",
    "game_bench": "game_id || ' ' || rest_minutes",
    "trial": "trial_id",
    "session_plan": "session_plan_id",
    "lifted_set": "set_id",
    "athlete_status": "status_id",
    "mapping_athlete": "mapping || ' ' || written",
    "person": "person",
}
"""The tables whose rows move, and the key that identifies one athlete's row in each."""


@dataclass(frozen=True)
class MergePreview:
    """What a merge would move.

    Attributes
    ----------
    sessions : int
        Sessions that move to the other entry.
    staying : int
        Sessions that stay, because the other entry has one of the same measure and start.
    plans, sets : int
        Plans and lifted sets that move.
    accounts : tuple of str
        Accounts that will see the other entry's page.
    """

    sessions: int
    staying: int
    plans: int
    sets: int
    accounts: tuple[str, ...]


@dataclass(frozen=True)
class Merge:
    """A merge that can be undone: its number, the two entries by code, when and by whom."""

    merge_id: int
    athlete: str
    other_athlete: str
    merged_at: datetime
    person: str


def merge_preview(store: Store, athlete: str, other_athlete: str) -> MergePreview:
    """Count what merging an entry into another would move.

    Raises
    ------
    BadInput
        If the two cannot be merged.
    """
    with store.reading() as cursor:
        _check(cursor, athlete, other_athlete)
        moved = _moved(athlete, other_athlete)

        def count(table: str, condition: str) -> int:
            return fetch_number(cursor, f'SELECT count(*) FROM "{table}" WHERE {condition}')

        sessions = count("session", moved["session"])
        accounts = cursor.execute(
            f"SELECT person FROM person WHERE {moved['person']} ORDER BY person"
        ).fetchall()
        return MergePreview(
            sessions,
            count("session", f"athlete = {_text(athlete)}") - sessions,
            count("plan", moved["plan"]),
            count("lifted_set", moved["lifted_set"]),
            tuple(name for (name,) in accounts),
        )


def merges(store: Store) -> list[Merge]:
    """List the merges that can be undone, the newest first."""
    with store.reading() as cursor:
        rows = cursor.execute(
            "SELECT merge_id, athlete, other_athlete, merged_at, person FROM athlete_merge "
            "ORDER BY merge_id DESC"
        ).fetchall()
    return [Merge(*row) for row in rows]


def merged_codes(cursor: duckdb.DuckDBPyConnection) -> dict[str, str]:
    """Return, by the code of each merged entry, the code that its rows have now."""
    rows = cursor.execute("SELECT athlete, other_athlete FROM athlete_merge").fetchall()
    into = dict(rows)
    for code in into:
        while into[code] in into:
            into[code] = into[into[code]]
    return into


def merge_athletes(store: Store, athlete: str, other_athlete: str, person: str) -> None:
    """Move the rows of an entry to another, and make the first one inactive.

    Raises
    ------
    BadInput
        If a code is unknown, both are the same, or one was merged already.
    """

    def decide(root: duckdb.DuckDBPyConnection) -> Rewrite:
        _check(root, athlete, other_athlete)
        number = fetch_number(root, "SELECT coalesce(max(merge_id), 0) + 1 FROM athlete_merge")
        moved = _moved(athlete, other_athlete)
        was_active = f"(SELECT active FROM athlete WHERE athlete = {_text(athlete)})"
        keys = " UNION ALL ".join(
            f"SELECT {number} AS merge_id, '{table}' AS kind, ({_KEYS[table]})::VARCHAR AS row_key "
            f'FROM "{table}" WHERE {condition}'
            for table, condition in moved.items()
        )
        return Rewrite(
            "merge athletes",
            f"{athlete} into {other_athlete}",
            {},
            _replaced(moved, other_athlete, athlete, "false"),
            {
                "athlete_merge": f"SELECT {number} AS merge_id, {_text(athlete)} AS athlete, "
                f"{_text(other_athlete)} AS other_athlete, {was_active} AS was_active, "
                f"{_text(person)} AS person",
                "merged_row": keys,
            },
        )

    rewrite(store, person, decide)


def part_athletes(store: Store, merge_id: int, person: str) -> None:
    """Undo a merge: the rows it moved go back, except those removed since.

    Raises
    ------
    BadInput
        If the merge was undone already, or the other entry has been merged itself since.
    """

    def decide(root: duckdb.DuckDBPyConnection) -> Rewrite:
        row = root.execute(
            "SELECT athlete, other_athlete, was_active FROM athlete_merge WHERE merge_id = ?",
            [merge_id],
        ).fetchone()
        if row is None:
            raise BadInput("This merge was undone already.")
        athlete, other, was_active = row
        if fetch_number(root, "SELECT count(*) FROM athlete_merge WHERE athlete = ?", [other]):
            raise BadInput(f"'{other}' was merged itself since. Undo that first.")
        moved = {
            table: f"(athlete = {_text(other)} AND ({key})::VARCHAR IN (SELECT row_key FROM "
            f"merged_row WHERE merge_id = {merge_id} AND kind = '{table}'))"
            for table, key in _KEYS.items()
        }
        of_merge = f"merge_id = {merge_id}"
        return Rewrite(
            "part athletes",
            f"{athlete} from {other}",
            {"athlete_merge": of_merge, "merged_row": of_merge},
            _replaced(moved, athlete, athlete, str(was_active).lower()),
        )

    rewrite(store, person, decide)


def _moved(athlete: str, other: str) -> dict[str, str]:
    """Return, by table, the SQL condition for the rows of an entry that move to the other."""
    old, new = _text(athlete), _text(other)
    both_play = (
        f"(SELECT game_id FROM game_athlete WHERE athlete = {old} INTERSECT "
        f"SELECT game_id FROM game_athlete WHERE athlete = {new})"
    )
    staying_plans = (
        f"(SELECT plan_id FROM game_athlete WHERE athlete = {old} AND plan_id IS NOT NULL "
        f"AND game_id IN {both_play})"
    )
    staying_changes = (
        f"(SELECT change_id FROM plan_outcome_change WHERE plan_id IN {staying_plans})"
    )
    stays = {
        "session": f"(measure, started_at) IN (SELECT (measure, started_at) FROM session "
        f"WHERE athlete = {new})",
        **dict.fromkeys(
            ("plan", "lapsed_plan", "second_game_plan", "plan_outcome_change"),
            f"plan_id IN {staying_plans}",
        ),
        "outcome_manner": f"change_id IN {staying_changes}",
        **dict.fromkeys(("game_athlete", "game_bench"), f"game_id IN {both_play}"),
    }
    return {table: f"(athlete = {old} AND NOT ({stays.get(table, 'false')}))" for table in _KEYS}


def _replaced(moved: dict[str, str], to: str, entry: str, active: str) -> dict[str, dict[str, str]]:
    """Return the new values, by table and column: whose rows, whether active, which revision.

    Moved efforts count as changed, so the curves count as old until they are worked out again.
    """
    revision = "(SELECT coalesce(max(revision), 0) + 1 FROM audit)"
    sessions = f"session_id IN (SELECT session_id FROM session WHERE {moved['session']})"
    return {
        **{
            table: {"athlete": f"CASE WHEN {condition} THEN {_text(to)} ELSE athlete END"}
            for table, condition in moved.items()
        },
        "athlete": {"active": f"CASE WHEN athlete = {_text(entry)} THEN {active} ELSE active END"},
        "effort": {"revision": f"CASE WHEN {sessions} THEN {revision} ELSE revision END"},
    }


def _check(root: duckdb.DuckDBPyConnection, athlete: str, other: str) -> None:
    if athlete == other:
        raise BadInput("An entry cannot be merged with itself. Choose two.")
    for code in (athlete, other):
        if not fetch_number(root, "SELECT count(*) FROM athlete WHERE athlete = ?", [code]):
            raise BadInput(f"There is no athlete with the code '{code}'. Check the code.")
        if fetch_number(root, "SELECT count(*) FROM athlete_merge WHERE athlete = ?", [code]):
            raise BadInput(f"'{code}' is merged into another entry already. Undo that first.")


def _text(value: str) -> str:
    return quoted(value, "'")
