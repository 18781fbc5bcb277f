"""Once a day, while the store is served, remove what was kept for longer than it should be."""

from __future__ import annotations

import threading
from collections.abc import Callable

from dashboard.core.failures import told_of
from dashboard.core.repeating import repeat
from db.file.store import Store
from db.privacy.retention import apply_retention

BY = "retention (once a day)"
DAY_SECONDS = 24 * 60 * 60.0


def start_daily_retention(
    store: Store, say: Callable[[str], None], every_seconds: float = DAY_SECONDS
) -> threading.Event:
    """Apply the retention at once and then once a day, until the returned event is set."""
    return repeat(lambda: apply_once(store, say), every_seconds, "retention")


def apply_once(store: Store, say: Callable[[str], None]) -> None:
    """Apply the retention, and say what was removed or why it could not be."""
    try:
        removed = apply_retention(store, BY)
    except Exception as error:
        why = told_of(error, "this", "It is tried again tomorrow.")
        say(f"What was kept long enough could not be removed: {why}")
        return
    told = ", ".join(f"{count} {kind}" for kind, count in removed.items() if count)
    if told:
        say(f"Removed, as it was kept for its time: {told}.")
