"""Set how long things are kept, and remove what has been kept for longer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from types import MappingProxyType

import duckdb

from db.errors import BadInput
from db.file.frames import fetch_number
from db.file.relations import with_dependants
from db.file.rewriting import Rewrite, rewrite
from db.file.settings import get_setting, set_setting
from db.file.store import Store
from db.privacy.erasing import blank_rows, counts_without

MOST_DAYS = 36_500
FOREVER = "forever"
NOT_KEPT = "The text of this row was kept for its time and then removed"
SOMEBODY = "somebody"


@dataclass(frozen=True)
class Kind:
    """Something that is kept for a time.

    Attributes
    ----------
    what : str
        In words.
    default_days : int or None
        How many days it is kept if nobody set them; None means for ever.
    fewest_days : int
        The fewest days allowed, so that a typing mistake cannot remove a season.
    table, due : str
        Its table, and the SQL condition of the rows that are older than `{moment}`.
    """

    what: str
    default_days: int | None
    fewest_days: int
    table: str
    due: str


KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "sessions": Kind(
            "sessions with their efforts, notes and corrections",
            None,
            365,
            "session",
            "started_at < {moment}::TIMESTAMP",
        ),
        "set-aside": Kind(
            "what stood in rows of files that were set aside",
            365,
            1,
            "set_aside_row",
            f"row_text <> '' AND reason <> '{NOT_KEPT}' AND batch_id IN "
            "(SELECT batch_id FROM import_batch WHERE imported_at < {moment})",
        ),
        "audit": Kind(
            "who wrote to the store, and to what; that something was written stays",
            None,
            90,
            "audit",
            f"person <> '{SOMEBODY}' AND happened_at < {{moment}}",
        ),
        "web-sessions": Kind(
            "sign-ins of browsers that have ended",
            90,
            1,
            "web_session",
            "coalesce(closed_at, expires_at) < {moment}",
        ),
    }
)


def kept_days(store: Store) -> dict[str, int | None]:
    """Return how many days each kind is kept; None means for ever."""
    with store.reading():
        texts = {kind: get_setting(store, _key(kind)) for kind in KINDS}
    return {kind: _days(kind, text) for kind, text in texts.items()}


def _days(kind: str, text: str | None) -> int | None:
    if text is None:
        return KINDS[kind].default_days
    return None if text == FOREVER else min(int(text), MOST_DAYS)


def keep_for(store: Store, kind: str, days: int | None, person: str) -> None:
    """Set how many days a kind is kept; None means for ever.

    Raises
    ------
    BadInput
        If there is no such kind, or the days are too few or too many.
    """
    if kind not in KINDS:
        raise BadInput(f"There is no kind '{kind}'. There are {', '.join(KINDS)}.")
    fewest = KINDS[kind].fewest_days
    if days is not None and days < fewest:
        raise BadInput(f"{kind} must be kept for at least {fewest} days, not {days}.")
    if days is not None and days > MOST_DAYS:
        raise BadInput(f"{kind} can be kept for {MOST_DAYS} days at most, or {FOREVER}.")
    set_setting(store, _key(kind), FOREVER if days is None else str(days), person)


def due(store: Store, days: Mapping[str, int | None] | None = None) -> dict[str, int]:
    """Count, for each kind, what has been kept for longer than it should.

    Parameters
    ----------
    store : Store
        The store.
    days : mapping of str to int or None, optional
        Days to use instead of those that are set, to see what they would mean.
    """
    conditions = _conditions(kept_days(store) | dict(days or {}))
    with store.reading() as cursor:
        return {
            kind: fetch_number(
                cursor, f"SELECT count(*) FROM {KINDS[kind].table} WHERE {condition}"
            )
            for kind, condition in conditions.items()
        }


def apply_retention(store: Store, person: str) -> dict[str, int]:
    """Remove what has been kept for longer than it should, and return how much it was.

    The file is rewritten without it, unless there is nothing to remove.
    """
    found = due(store)
    if any(found.values()):
        conditions = _conditions(kept_days(store))
        told = ", ".join(f"{count} {kind}" for kind, count in found.items() if count)
        rewrite(store, person, lambda root: _removal(root, conditions, told))
    return found


def _conditions(days: Mapping[str, int | None]) -> dict[str, str]:
    now = datetime.now(UTC)
    return {
        kind: KINDS[kind].due.format(moment=_moment(now - timedelta(days=length)))
        if length is not None
        else "false"
        for kind, length in days.items()
    }


def _moment(moment: datetime) -> str:
    return f"'{moment:%Y-%m-%d %H:%M:%S}+00'::TIMESTAMPTZ"


def _removal(root: duckdb.DuckDBPyConnection, conditions: Mapping[str, str], told: str) -> Rewrite:
    dropped = with_dependants(
        root, {"session": conditions["sessions"], "web_session": conditions["web-sessions"]}
    )
    return Rewrite(
        "apply retention",
        told,
        dropped,
        {
            "import_batch": counts_without(root, conditions["sessions"]),
            "set_aside_row": blank_rows(root, conditions["set-aside"], NOT_KEPT),
            "audit": {
                column: f'CASE WHEN {conditions["audit"]} THEN {text} ELSE "{column}" END'
                for column, text in (("person", f"'{SOMEBODY}'"), ("detail", "''"))
            },
        },
    )


def _key(kind: str) -> str:
    return f"keep_{kind.replace('-', '_')}_days"
