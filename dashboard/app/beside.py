"""What runs by itself beside the pages, as chosen when the server is started."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from db.file.store import Store
    from db.file.waits import Tell


@dataclass(frozen=True)
class Beside:
    """What runs by itself beside the pages.

    Attributes
    ----------
    fit_after_seconds : float or None
        How long after the last change curves are brought up to date by themselves; None: only
        when somebody asks.
    inbox : Path or None
        The folder whose files are imported by themselves; None if none is watched.
    """

    fit_after_seconds: float | None = None
    inbox: Path | None = None

    def prepare(self) -> None:
        """Check that it can run, before anything else is started.

        Raises
        ------
        BadInput
            If the inbox cannot be used.
        """
        if self.inbox is not None:
            from dashboard.inbox.folder import prepare

            prepare(self.inbox)

    def begin(self, store: Store, say: Tell, at_the_end: ExitStack) -> None:
        """Start it; `at_the_end` ends it."""
        if self.fit_after_seconds is not None:
            from dashboard.fits.own_accord import start_own_accord

            at_the_end.callback(start_own_accord(store, say, self.fit_after_seconds).set)
        if self.inbox is not None:
            from dashboard.inbox.watching import start_inbox

            at_the_end.callback(start_inbox(self.inbox, store, say).set)
