from __future__ import annotations

from db.file.frames import fetch_number
from db.file.store import Store

_SET = "set setting"


def get_setting(store: Store, key: str, default: str | None = None) -> str | None:
    """Return the value of a setting, or the default if nobody set it."""
    with store.reading() as cursor:
        row = cursor.execute("SELECT value FROM setting WHERE key = ?", [key]).fetchone()
    return str(row[0]) if row else default


def set_setting(store: Store, key: str, value: str, person: str) -> None:
    """Set the value of a setting."""
    with store.writing(person, _SET, key) as cursor:
        cursor.execute(
            "INSERT INTO setting (key, value) VALUES (?, ?) "
            "ON CONFLICT (key) DO UPDATE SET value = excluded.value",
            [key, value],
        )


def setting_revision(store: Store, key: str) -> int:
    """Return the revision of the last write of a setting; 0 if the audit has none."""
    with store.reading() as cursor:
        return fetch_number(
            cursor,
            "SELECT coalesce(max(revision), 0) FROM audit WHERE action = ? AND detail = ?",
            [_SET, key],
        )
