"""Make codes for athletes who come with only a name."""

from __future__ import annotations

import re
from collections.abc import Collection

_NO_CODE = re.compile(r"[^\w .-]")


def new_code(name: str, taken: Collection[str]) -> str:
    """Make an unused code from a name, without the characters that codes don't allow."""
    code = " ".join(_NO_CODE.sub("", usual_order(name)).split())[:40].strip(" .-_") or "athlete"
    number, free = 2, code
    while free in taken:
        free, number = f"{code[:36]} {number}", number + 1
    return free


def usual_order(name: str) -> str:
    """Write `Berg, Anna` as Anna Berg."""
    last, comma, first = name.partition(",")
    return f"{first.strip()} {last.strip()}" if comma and first.strip() else name
