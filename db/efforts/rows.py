from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType

import duckdb
import pandas as pd

from db.errors import BadInput
from db.file.connection import current_revision
from db.file.frames import fetch
from db.file.store import Store
from db.imports.parsed_rows import parse_rows
from db.imports.row_checks import sort_rows
from db.imports.session_keys import session_ids
from db.imports.storing import store_rows
from db.roster.measures import Measure, limits_text, list_measures, measures_of
from db.tables.cells import SESSION_FACTS
from db.tables.text_tables import RawTable

STATED_APART = ("kind", "context")
FACTS = tuple(fact for fact in SESSION_FACTS if fact not in STATED_APART)


@dataclass(frozen=True)
class EffortEntry:
    """One attempt as typed: number in the session, value, and volume before it.

    The volume may be None in a fade test: it is then the number of efforts before.
    """

    effort: int
    value: float
    volume_before: float | None = None


@dataclass(frozen=True)
class SessionEntry:
    """A session as typed.

    Attributes
    ----------
    athlete, measure : str
        Codes.
    started_at : datetime
        Local wall time; an offset is kept beside it.
    efforts : tuple of EffortEntry
        At least one.
    kind : str
        routine or fade.
    context : str or None
        training, game, test or lifting.
    facts : mapping
        Any of `FACTS`; None and empty text state nothing.
    """

    athlete: str
    measure: str
    started_at: datetime
    efforts: tuple[EffortEntry, ...]
    kind: str = "routine"
    context: str | None = None
    facts: Mapping[str, object] = field(default_factory=lambda: MappingProxyType({}))


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


def effort_changes(store: Store, effort_id: int) -> pd.DataFrame:
    """List what was changed on an effort, oldest first.

    Returns
    -------
    DataFrame
        `changed_at`, `person`, `reason`, `old_value`, `new_value`, `old_excluded`,
        `new_excluded`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT changed_at, person, reason, old_value, new_value, old_excluded, new_excluded "
            "FROM effort_change WHERE effort_id = ? ORDER BY change_id",
            [effort_id],
        )


def add_session(store: Store, entry: SessionEntry, person: str) -> int:
    """Store a session as typed, by the rules of the import, and give its number.

    Efforts that are stored already with the same value stay as they are, so that a tester
    may save again after every effort.

    Raises
    ------
    BadInput
        If anything in it cannot be stored; then nothing of it is.
    """
    parsed = parse_rows(_as_table(entry))
    detail = f"{entry.athlete} {entry.measure} {entry.started_at.isoformat(timespec='minutes')}"
    with store.writing(person, "add session", detail) as cursor:
        check = sort_rows(cursor, parsed, add_athletes=False)
        if not check.set_aside.empty:
            raise BadInput(_complaint(check.set_aside))
        store_rows(cursor, check, batch_id=None)
        return int(session_ids(cursor, check.sessions).iloc[0])


def correct_effort(store: Store, effort_id: int, value: float, reason: str, person: str) -> None:
    """Write another value for an effort; the old one is kept with who, when and why.

    Raises
    ------
    BadInput
        If there is no such effort, the value is not allowed or the same, or the reason is
        empty.
    """
    with store.writing(person, "correct effort", str(effort_id)) as cursor:
        effort = stored_effort(cursor, effort_id)
        check_value(effort.measure, value)
        if value == effort.value:
            raise BadInput(f"Effort {effort_id} has the value {value:g} already.")
        change_effort(cursor, effort, reason, person, value, effort.excluded)


def exclude_effort(store: Store, effort_id: int, reason: str, person: str) -> None:
    """Keep an effort and use it no longer.

    Raises
    ------
    BadInput
        If there is no such effort, it is excluded already, or the reason is empty.
    """
    with store.writing(person, "exclude effort", str(effort_id)) as cursor:
        effort = stored_effort(cursor, effort_id)
        if effort.excluded is not None:
            raise BadInput(f"Effort {effort_id} is excluded already: {effort.excluded}.")
        change_effort(cursor, effort, reason, person, effort.value, reason.strip())


def include_effort(store: Store, effort_id: int, reason: str, person: str) -> None:
    """Use an effort again that was excluded.

    Raises
    ------
    BadInput
        If there is no such effort, it is not excluded, or the reason is empty.
    """
    with store.writing(person, "include effort", str(effort_id)) as cursor:
        effort = stored_effort(cursor, effort_id)
        if effort.excluded is None:
            raise BadInput(f"Effort {effort_id} is not excluded.")
        change_effort(cursor, effort, reason, person, effort.value, None)


@dataclass(frozen=True)
class StoredEffort:
    """An effort as it stands: its value and the reason for which it is excluded, if any."""

    effort_id: int
    measure: Measure
    value: float
    excluded: str | None


def _as_table(entry: SessionEntry) -> RawTable:
    unknown = sorted(set(entry.facts) - set(FACTS))
    if unknown:
        raise BadInput(
            f"There is no session fact {', '.join(unknown)}. The facts are {', '.join(FACTS)}."
        )
    if not entry.efforts:
        raise BadInput("The session has no efforts. Enter at least one.")
    session = {
        "athlete": entry.athlete,
        "started_at": entry.started_at.isoformat(),
        "measure": entry.measure,
        "kind": entry.kind,
        "context": entry.context,
        **entry.facts,
    }
    rows = [
        {**session, "effort": one.effort, "value": one.value, "volume_before": one.volume_before}
        for one in entry.efforts
    ]
    texts = [
        {name: "" if cell is None else str(cell) for name, cell in row.items()} for row in rows
    ]
    frame = pd.DataFrame(texts, dtype="str")
    frame.index = pd.Index(range(1, len(rows) + 1), name="line")
    return RawTable(frame, name="typed in", sha256="")


def _complaint(set_aside: pd.DataFrame) -> str:
    # A fault of the session stands on each of its rows; it is said once.
    faults = set_aside.drop_duplicates(["column", "reason"])
    shown = "; ".join(
        f"{column} of effort {effort}: {reason}"
        for effort, column, reason in faults[["effort", "column", "reason"]].values.tolist()
    )
    return f"The session cannot be stored. {shown}. Nothing of it was stored."


def stored_effort(cursor: duckdb.DuckDBPyConnection, effort_id: int) -> StoredEffort:
    """Give an effort as it stands; there must be one of this number."""
    row = cursor.execute(
        "SELECT measure, value, excluded FROM effort_detail WHERE effort_id = ?", [effort_id]
    ).fetchone()
    if row is None:
        raise BadInput(f"There is no effort {effort_id}.")
    measure = next(one for one in measures_of(cursor) if one.code == row[0])
    return StoredEffort(effort_id, measure, row[1], row[2])


def is_allowed(measure: Measure, value: float) -> bool:
    """Say whether a value is within the limits of its measure."""
    above = value > 0 and (measure.lowest is None or value >= measure.lowest)
    return math.isfinite(value) and above and (measure.highest is None or value <= measure.highest)


def check_value(measure: Measure, value: float) -> None:
    """Refuse a value that is not within the limits of its measure."""
    if not is_allowed(measure, value):
        raise BadInput(
            f"{value:g} cannot be a value of {measure.code}. Enter one within "
            f"{limits_text(measure)}."
        )


def change_effort(
    cursor: duckdb.DuckDBPyConnection,
    effort: StoredEffort,
    reason: str,
    person: str,
    value: float,
    excluded: str | None,
) -> None:
    """Write what an effort is from now on, and keep what it was with who, when and why."""
    if not reason.strip():
        raise BadInput("A change of an effort needs a reason. Say in a few words why.")
    cursor.execute(
        "INSERT INTO effort_change (effort_id, person, reason, old_value, new_value, "
        "old_excluded, new_excluded) VALUES (?, ?, ?, ?, ?, ?, ?)",
        [
            effort.effort_id,
            person,
            reason.strip(),
            effort.value,
            value,
            effort.excluded,
            excluded,
        ],
    )
    cursor.execute(
        "UPDATE effort SET value = ?, excluded = ?, revision = ? WHERE effort_id = ?",
        [value, excluded, current_revision(cursor), effort.effort_id],
    )
