"""Checks the columns of every table that a page shows in any test."""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
import streamlit as st

import dashboard
from db.imports.effort_files import COLUMNS

AS_IN_A_FILE = {"data/mapping_page"}
"""Modules that show a file with its own headings."""
KINDS = ("dataframe", "table", "data_editor")
FOLDER = Path(dashboard.__file__).parent
NO_WORD = re.compile(r"nan|None|NaT|<NA>|inf|-inf")


@dataclass
class Tables:
    """The lines of the program that showed tables, and what was wrong with those tables."""

    sites: set[str] = field(default_factory=set)
    faults: list[str] = field(default_factory=list)

    def forget(self) -> None:
        self.sites.clear()
        self.faults.clear()


def sites() -> set[str]:
    """Every line of the program that shows a table, as module and line."""
    found = set()
    for path in FOLDER.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Attribute)
                and node.func.attr in KINDS
            ):
                found.add(f"{_module(path)}:{node.lineno}")
    return found


def _module(path: Path) -> str:
    return path.relative_to(FOLDER).with_suffix("").as_posix()


@contextmanager
def watched() -> Iterator[Tables]:
    """Check each table that is shown inside the block."""
    tables = Tables()
    with pytest.MonkeyPatch.context() as patch:
        for kind in KINDS:
            patch.setattr(st, kind, _reading(getattr(st, kind), tables))
        yield tables


def _reading(show: Callable[..., Any], tables: Tables) -> Callable[..., Any]:
    def read(data: Any, *more: Any, **how: Any) -> Any:
        caller = inspect.currentframe().f_back
        assert caller is not None
        site = f"{_module(Path(caller.f_code.co_filename))}:{caller.f_lineno}"
        tables.sites.add(site)
        frame = data if isinstance(data, pd.DataFrame) else pd.DataFrame(data)
        config, order = how.get("column_config") or {}, how.get("column_order")
        if site.partition(":")[0] not in AS_IN_A_FILE:
            tables.faults += [f"{site} {fault}" for fault in faults(frame, config, order)]
        return show(data, *more, **how)

    return read


def faults(
    frame: pd.DataFrame, config: Mapping[str, Any], order: tuple[str, ...] | None = None
) -> list[str]:
    """Return what would trip up a reader: headings not in words or twice, cells such as `nan`."""
    names = [name for name in order or frame.columns if config.get(name, "") is not None]
    headings = [_heading(name, config.get(name)) for name in names]
    said = [f"{heading} is no heading" for heading in headings if not _in_words(heading)]
    if len(set(headings)) < len(headings):
        said.append(f"has a heading twice: {headings}")
    for name in names:
        texts = [cell for cell in frame[name] if isinstance(cell, str)]
        said += [f"{name} says {text}" for text in texts if NO_WORD.fullmatch(text.strip())]
    return said


def _heading(name: str, config: Any) -> str:
    label = config if isinstance(config, str) else (config or {}).get("label")
    return label or str(name)


def _in_words(heading: str) -> bool:
    return bool(heading.strip()) and ("_" not in heading or heading in COLUMNS)
