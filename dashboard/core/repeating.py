"""Work that is done again and again while the program runs."""

from __future__ import annotations

import threading
from collections.abc import Callable


def repeat(work: Callable[[], object], every_seconds: float, name: str) -> threading.Event:
    """Do some work at once, and then every so many seconds, until the returned event is set.

    It runs in a thread of this name, and must not raise.
    """
    stop = threading.Event()

    def run() -> None:
        work()
        while not stop.wait(every_seconds):
            work()

    threading.Thread(target=run, name=name, daemon=True).start()
    return stop
