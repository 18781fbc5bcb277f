"""Texts from files, shortened for use in sentences."""

from __future__ import annotations

from collections.abc import Sequence

_LONGEST, _MOST = 60, 20


def shortened(text: str) -> str:
    """Return a text, or the beginning of a long one."""
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}..."


def some_of(names: Sequence[str]) -> str:
    """List names, or the first of them and how many more there are."""
    more = f" and {len(names) - _MOST} more" if len(names) > _MOST else ""
    return ", ".join(map(shortened, names[:_MOST])) + more
