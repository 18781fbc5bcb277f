"""New stores that begin as small copies of a finished one, in a DuckDB on one processor."""

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
    """Spare tests, which make hundreds of stores, to make the same tables one by one each time.

    How the tables of a new store come about is tested by `tests/db/file/test_migrations.py`.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(opening.SETTINGS, "threads", "1")
        # The smallest blocks there are: a store of few rows takes 2 MB instead of 24.
        patch.setitem(opening.SETTINGS, "default_block_size", "16384")
        patch.setattr(connection, "connect", _connect)
        yield


def _connect(path: Path, wait: Wait, external_access: bool) -> OpenFile:
    """Open a file; one that is new has the newest tables and an identity of its own."""
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
