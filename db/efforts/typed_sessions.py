"""Sessions as somebody types them, stored by the rules of the import."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType

import pandas as pd

from db.efforts.rows import FACTS
from db.errors import BadInput
from db.file.store import Store
from db.imports.parsed_rows import parse_rows
from db.imports.row_checks import sort_rows
from db.imports.session_keys import session_ids
from db.imports.storing import store_rows
from db.tables.text_tables import RawTable


@dataclass(frozen=True)
class EffortEntry:
    """One effort as typed: number in the session, value, and volume before it.

    The volume may be None in a fade test: it is then the number of efforts before this one.
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
        Local wall time; an offset is stored beside it.
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


def add_session(store: Store, entry: SessionEntry, person: str) -> int:
    """Save a session as typed, by the rules of the import, and return its number.

    Efforts already stored with the same value stay as they are, so a tester can save again
    after every effort.

    Raises
    ------
    BadInput
        If anything in it cannot be stored; then none of it is.
    """
    parsed = parse_rows(_as_table(entry))
    detail = f"{entry.athlete} {entry.measure} {entry.started_at.isoformat(timespec='minutes')}"
    with store.writing(person, "add session", detail) as cursor:
        check = sort_rows(cursor, parsed, add_athletes=False)
        if not check.set_aside.empty:
            raise BadInput(_complaint(check.set_aside))
        store_rows(cursor, check, batch_id=None)
        return int(session_ids(cursor, check.sessions).iloc[0])


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
    # A fault of the session is on each of its rows, so say it only once.
    faults = set_aside.drop_duplicates(["column", "reason"])
    shown = "; ".join(
        f"{column} of effort {effort}: {reason}"
        for effort, column, reason in faults[["effort", "column", "reason"]].values.tolist()
    )
    return f"The session cannot be stored. {shown}. Nothing of it was stored."
