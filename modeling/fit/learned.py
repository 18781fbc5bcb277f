"""What a fit learned of the squad as plain numbers, to be kept and read again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, is_dataclass
from types import UnionType
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

import numpy as np

__all__ = ["plain", "read_plain"]

Read = TypeVar("Read")


def plain(kept: Any) -> dict[str, Any]:
    """Give a dataclass of numbers, arrays, mappings and more of its kind as JSON can hold it."""
    facts: dict[str, Any] = _listed(asdict(kept))
    return facts


def read_plain(kind: type[Read], facts: Mapping[str, Any]) -> Read:
    """Read back what `plain` gave.

    Raises
    ------
    KeyError, TypeError, ValueError
        If something is missing, of no such field, or not of its kind.
    """
    hints = get_type_hints(kind)
    return kind(**{name: _read(hints[name], value) for name, value in facts.items()})


def _listed(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {name: _listed(each) for name, each in value.items()}
    return value.tolist() if isinstance(value, np.ndarray | np.generic) else value


def _read(hint: Any, value: Any) -> Any:
    if isinstance(hint, UnionType):
        hint = next(each for each in get_args(hint) if each is not type(None))
    if value is None:
        return None
    if is_dataclass(hint) and isinstance(hint, type):
        return read_plain(hint, value)
    if get_origin(hint) is tuple:
        return tuple(value)
    return np.asarray(value, dtype=float) if get_origin(hint) is np.ndarray else value
