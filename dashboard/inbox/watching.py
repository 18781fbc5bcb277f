"""Watching the inbox while the store is served."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from dashboard.core.failures import told_of
from dashboard.core.repeating import repeat
from dashboard.inbox.folder import ASIDE, DONE, Stamp, files_in, move, prepare
from dashboard.inbox.taking import NeedsPerson, known_layouts, take
from db.file.held_store import Seen
from db.file.store import Store

NAME = "inbox"
LOOK_SECONDS = 2.0
STILL_SECONDS = 5.0
"""How long a file must stay unchanged before it counts as complete."""


@dataclass(frozen=True)
class _Waiting:
    """A file that a person has to look at: its stamp, what was known then, and why it waits."""

    stamp: Stamp
    known: object
    why: str


@dataclass
class Inbox:
    """A watched folder and what is known about the files in it.

    Parameters
    ----------
    folder : Path
        Where files appear.
    store, say
        Where to import, and what takes each sentence for the person at the terminal.
    still_seconds : float
        How long a file must stay unchanged before it counts as complete.
    """

    folder: Path
    store: Store
    say: Callable[[str], None]
    still_seconds: float = STILL_SECONDS
    _seen: dict[Path, tuple[Stamp, float]] = field(default_factory=dict)
    _waiting: dict[Path, _Waiting] = field(default_factory=dict)
    _said: set[str] = field(default_factory=set)
    _known: tuple[Seen, object] | None = None

    @property
    def waiting(self) -> dict[Path, str]:
        """The files that wait for a person, each with the reason, by name."""
        return {path: each.why for path, each in sorted(self._waiting.items())}

    def look(self) -> None:
        """Import what is complete and known; a problem is reported once and tried again."""
        try:
            self._look()
        except Exception as error:
            why = told_of(error, "it", "It is tried again.")
            self._say_once(f"The inbox could not be read. {why}")

    def _look(self) -> None:
        files, now = files_in(self.folder), time.monotonic()
        self._waiting = {path: each for path, each in self._waiting.items() if path in files}
        seen, self._seen = self._seen, {}
        for path, stamp in files.items():
            before = seen.get(path)
            since = before[1] if before and before[0] == stamp else now
            self._seen[path] = stamp, since
            if before and before[0] == stamp and now - since >= self.still_seconds:
                self._take(path, stamp)

    def _take(self, path: Path, stamp: Stamp) -> None:
        known, waits = self._layouts(), self._waiting.get(path)
        if waits is not None and (waits.stamp, waits.known) == (stamp, known):
            return
        try:
            taken = take(self.store, path.read_bytes(), path.name)
        except NeedsPerson as reason:
            self._waiting[path] = _Waiting(stamp, known, reason.sentence)
            # Leave out the file's name, which may name somebody.
            self._say_once("A file waits in the inbox for a person; see the page Inbox.")
            return
        self._waiting.pop(path, None)
        self._said.clear()
        to = ASIDE if taken.set_aside else DONE
        # A file that changed meanwhile is read again; its saved rows are recognised then.
        if move(path, stamp, to, taken.report) is not None:
            self.say(f"A file of the inbox went to {to}.")

    def _layouts(self) -> object:
        """Return what is known about layouts, read again only if the store has changed."""
        state = self.store.state()
        if self._known is None or self._known[0] != state:
            self._known = state, known_layouts(self.store)
        return self._known[1]

    def _say_once(self, sentence: str) -> None:
        if sentence not in self._said:
            self._said.add(sentence)
            self.say(sentence)


_open: list[Inbox] = []


def running_inbox() -> Inbox | None:
    """Return the inbox that is watched, if one is."""
    return _open[-1] if _open else None


def start_inbox(
    folder: Path, store: Store, say: Callable[[str], None], look_seconds: float = LOOK_SECONDS
) -> threading.Event:
    """Watch a folder until the event returned is set.

    Raises
    ------
    BadInput
        If the folder cannot be used.
    """
    folder = folder.expanduser().absolute()
    prepare(folder)
    inbox = Inbox(folder, store, say)
    _open[:] = [inbox]
    say(f"Watching the inbox {folder}.")
    return repeat(inbox.look, look_seconds, NAME)
