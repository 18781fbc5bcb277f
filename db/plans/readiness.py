"""What is ticked before the first working set of a session."""

from __future__ import annotations

from dataclasses import astuple, dataclass, fields

from db.file.store import Store
from db.plans.session_plans import check_plan_in_sight


@dataclass(frozen=True)
class Readiness:
    """What must hold before the first working set."""

    joints: bool = False
    positions: bool = False
    fresh: bool = False
    peak: bool = False


_READINESS = [field.name for field in fields(Readiness)]


def readiness(store: Store, number: int) -> Readiness | None:
    """Return what was last ticked before the first working set; None if nothing was saved."""
    with store.reading() as cursor:
        row = cursor.execute(
            f"SELECT {', '.join(_READINESS)} FROM session_readiness WHERE session_plan_id = ?",
            [number],
        ).fetchone()
    return None if row is None else Readiness(*row)


def save_readiness(store: Store, number: int, ticked: Readiness, person: str) -> None:
    """Save what is ticked.

    Raises
    ------
    BadInput
        If there is no such plan.
    """
    with store.writing(person, "save readiness", str(number)) as cursor:
        check_plan_in_sight(cursor, number)
        cursor.execute(
            f"INSERT INTO session_readiness (session_plan_id, {', '.join(_READINESS)}, person) "
            "VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (session_plan_id) DO UPDATE SET "
            + ", ".join(f"{column} = excluded.{column}" for column in (*_READINESS, "person"))
            + ", checked_at = now()",
            [number, *astuple(ticked), person],
        )
