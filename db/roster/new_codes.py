"""Codes for athletes of whom there is only a name."""

from __future__ import annotations

import re
from collections.abc import Collection

_NO_CODE = re.compile(r"[^\w .-]")


def new_code(name: str, taken: Collection[str]) -> str:
    """Give a code for a new athlete: the name in the usual order, without what no code has."""
    code = " ".join(_NO_CODE.sub("", usual_order(name)).split())[:40].strip(" .-_") or "athlete"
    number, free = 2, code
    while free in taken:
        free, number = f"{code[:36]} {number}", number + 1
    return free


def usual_order(name: str) -> str:
    """Write `Berg, Anna` as Anna Berg."""
    last, comma, first = name.partition(",")
    return f"{first.strip()} {last.strip()}" if comma and first.strip() else name
