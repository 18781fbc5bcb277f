from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import pandas as pd
import pytest

from db.file.frames import fetch
from db.file.store import Store
from db.imports.effort_files import RawTable, read_table
from db.imports.storing import ImportReport, import_efforts
from db.roster.athletes import save_athletes


@pytest.fixture(scope="session")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    store = Store(tmp_path_factory.mktemp("made_once") / "store.duckdb")
    store.create()
    save_athletes(store, pd.DataFrame({"athlete": ["A1", "A2"]}), "tester")
    return store.path


@pytest.fixture
def closed_store(made_once: Path, tmp_path: Path) -> Store:
    """A store with the athletes A1 and A2 and the built-in measures."""
    path = tmp_path / "store.duckdb"
    shutil.copyfile(made_once, path)
    return Store(path, wait_seconds=10)


@pytest.fixture
def store(closed_store: Store) -> Iterator[Store]:
    """The same store, kept open during the test to make each unit of work fast."""
    with closed_store.reading():
        yield closed_store


HEADER = "athlete,started_at,measure,effort,value,volume_before"


def table_of(rows: Iterable[str], header: str = HEADER, name: str = "rows.csv") -> RawTable:
    return read_table("\n".join([header, *rows]).encode(), name)


@pytest.fixture
def bring(store: Store) -> Callable[..., ImportReport]:
    """Import rows written as CSV lines."""

    def bring(*rows: str, header: str = HEADER, add_athletes: bool = False) -> ImportReport:
        return import_efforts(store, table_of(rows, header), "tester", add_athletes)

    return bring


def effort_changes(store: Store, effort_id: int) -> pd.DataFrame:
    """The changes to an effort, oldest first."""
    with store.reading() as cursor:
        return fetch(
            cursor, "FROM effort_change WHERE effort_id = ? ORDER BY change_id", [effort_id]
        )


def dump(store: Store) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table, to compare two states of a store."""
    with store.reading() as cursor:
        tables = cursor.execute("SELECT table_name FROM duckdb_tables() ORDER BY 1").fetchall()
        return {
            name: cursor.execute(f'SELECT * FROM "{name}" ORDER BY ALL').fetchall()
            for (name,) in tables
        }
