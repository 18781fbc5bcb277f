"""A small file of efforts from the demonstration squad, to try an import with."""

from __future__ import annotations

from importlib.resources import files

ATHLETES = ("H01", "H18", "H22")
"""One with a small best volume, one in between, and one with a large one."""
ROUTINE_SESSIONS = 4


def sample_efforts() -> str:
    """Return CSV of three invented athletes' first fade test and a few routine sessions."""
    head, *lines = (files("demo_team") / "jump_height.csv").read_text("utf-8").splitlines()
    kept = [line for athlete in ATHLETES for line in _first_sessions(lines, athlete)]
    return "\n".join([head, *kept]) + "\n"


def _first_sessions(lines: list[str], athlete: str) -> list[str]:
    """Return an athlete's lines from the first fade test and the first routine sessions."""
    own = [line for line in lines if line.startswith(f"{athlete},")]
    starts = {
        kind: list(dict.fromkeys(line.split(",")[1] for line in own if line.split(",")[3] == kind))
        for kind in ("fade", "routine")
    }
    kept = {*starts["fade"][:1], *starts["routine"][:ROUTINE_SESSIONS]}
    return [line for line in own if line.split(",")[1] in kept]
