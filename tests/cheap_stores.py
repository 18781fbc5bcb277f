"""New stores made by copying a small empty one, with DuckDB on a single thread."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from db.file import connection, migrations, opening
from db.file.opening import OpenFile, connect
from db.file.waits import Wait

SCHEMA = migrations.SCHEMA_FOLDER


@contextmanager
def cheap_stores() -> Iterator[None]:
    """Copy a ready store for each new one: tests make hundreds, all with the same tables.

    `tests/db/file/test_migrations.py` tests how the tables of a new store are made.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(opening.SETTINGS, "threads", "1")
        # The smallest block size there is: a store with few rows takes 2 MB instead of 24.
        patch.setitem(opening.SETTINGS, "default_block_size", "16384")
        patch.setattr(connection, "connect", _connect)
        yield


def _connect(path: Path, wait: Wait, external_access: bool) -> OpenFile:
    """Open a file; a new one gets the newest tables and its own identity."""
    if path.exists() or migrations.SCHEMA_FOLDER != SCHEMA:
        return connect(path, wait, external_access)
    with suppress(OSError):  # opening it will say why
        path.write_bytes(_empty_store())
    root = connect(path, wait, external_access)
    root.main.execute("UPDATE setting SET value = uuid()::VARCHAR WHERE key = 'store_id'")
    return root


@cache
def _empty_store() -> bytes:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "store.duckdb"
        root = connect(path, Wait(0), external_access=True)
        migrations.upgrade(root.main, path)
        root.close()
        return path.read_bytes()
