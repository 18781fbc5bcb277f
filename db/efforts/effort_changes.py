"""Correct efforts, exclude them and use them again; what was there before is saved."""

from __future__ import annotations

import math
from dataclasses import dataclass

import duckdb

from db.errors import BadInput
from db.file.connection import current_revision
from db.file.store import Store
from db.roster.measures import Measure, limits_text, measures_of


def correct_effort(store: Store, effort_id: int, value: float, reason: str, person: str) -> None:
    """Correct the value of an effort, and save the old one with who, when and why.

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
    """Stop using an effort; it stays in the store.

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
    """Use an excluded effort again.

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
    """An effort as it is now: its value and why it is excluded, if it is."""

    effort_id: int
    measure: Measure
    value: float
    excluded: str | None


def stored_effort(cursor: duckdb.DuckDBPyConnection, effort_id: int) -> StoredEffort:
    """Return the effort with this number as it is now; there must be one."""
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
    """Refuse a value outside the limits of its measure."""
    if not is_allowed(measure, value):
        raise BadInput(
            f"{value:g} cannot be a value of {measure.name.lower()}. Enter one within "
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
    """Change an effort, and save what it was with who, when and why."""
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
