"""A store that another process has, until the test lets it go."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

HOLD = """
import sys
from db.file.store import Store
with Store(sys.argv[1]).reading():
    print("held", flush=True)
    sys.stdin.read()
"""


@dataclass(frozen=True)
class Holder:
    """The process that has the store."""

    process: subprocess.Popen[str]

    @property
    def pid(self) -> int:
        return self.process.pid

    def let_go(self) -> None:
        """End it, and return when the store is free."""
        self.process.communicate()


@contextmanager
def held(path: Path) -> Iterator[Holder]:
    """Let another process hold the store until it is let go, at the end of the block if not yet."""
    words, pipe = [sys.executable, "-c", HOLD, str(path)], subprocess.PIPE
    with subprocess.Popen(words, stdin=pipe, stdout=pipe, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        yield Holder(process)
