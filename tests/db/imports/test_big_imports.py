from __future__ import annotations

import csv
import os
import signal
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest

from db.file.checks import check
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.tables import file_rows, text_files
from db.tables.file_kinds import rows_of
from tests.db.conftest import dump

ROWS = 2_000

# Stops the import for good at the named place, and says so on standard output.
CUT_OFF = """
import sys
from pathlib import Path
import db.imports.storing
from db.file.store import Store

def stop(*_):
    print("stopped", flush=True)
    sys.stdin.read()

def progress(share, what):
    if where == "sorted" and what.startswith("Storing"):
        stop()

where = sys.argv[3]
if where == "efforts in":
    db.imports.storing._fill_facts = stop
table = db.imports.effort_files.read_table(Path(sys.argv[2]))
db.imports.storing.import_efforts(Store(sys.argv[1]), table, "other", True, progress)
"""


@pytest.fixture(scope="module")
def big_file(tmp_path_factory: pytest.TempPathFactory):
    """2,000 efforts with every fact, some of them faulty and some doubled."""
    random = np.random.default_rng(1)
    sessions = np.repeat(np.arange(ROWS // 10), 10)
    started = pd.Timestamp("2022-01-01T09:00") + pd.to_timedelta(sessions * 97, unit="min")
    frame = pd.DataFrame(
        {
            "athlete": [f"A{number % 30 + 1}" for number in sessions],
            "started_at": started.strftime("%Y-%m-%dT%H:%M"),
            "measure": "jump_height",
            "effort": np.tile(np.arange(1, 11), ROWS // 10).astype(str),
            "value": random.normal(40, 3, ROWS).round(2),
            "volume_before": np.tile(np.arange(10), ROWS // 10),
            "kind": "routine",
            "context": "training",
            "note": [f"session {number}" for number in sessions],
        }
    )
    for fact in "general_minutes rest_minutes ambient_c freshness joints mobility".split():
        frame[fact] = np.repeat(random.integers(0, 10, ROWS // 10), 10)
    frame.loc[frame.index % 1000 == 7, "effort"] = "x"
    frame.loc[frame.index % 1000 == 9, :] = frame.loc[frame.index % 1000 == 8].to_numpy()
    path = tmp_path_factory.mktemp("big") / "big.csv"
    frame.to_csv(path, index=False)
    return path


@pytest.mark.parametrize("quoting", [csv.QUOTE_MINIMAL, csv.QUOTE_ALL], ids=["plain", "quoted"])
def test_a_file_that_is_read_in_parts_is_stored_whole(
    closed_store, big_file, tmp_path, monkeypatch, quoting
):
    file = tmp_path / "parts.csv"
    pd.read_csv(big_file, dtype=str).to_csv(file, index=False, quoting=quoting)
    whole = read_table(file)
    monkeypatch.setattr(text_files, "_BLOCK_BYTES", 2**14)
    monkeypatch.setattr(file_rows, "CHUNK_CELLS", 300 * len(whole.frame.columns))
    parts = rows_of(file.read_bytes(), file.name)
    assert all(column.num_chunks >= ROWS // 300 for column in parts.columns)
    table = read_table(file)
    pd.testing.assert_frame_equal(table.frame, whole.frame)
    report = import_efforts(closed_store, table, "tester", add_athletes=True)
    assert (report.stored, report.known, report.set_aside) == (ROWS - 4, 2, 2)
    assert check(closed_store) == []


@pytest.mark.parametrize("where", ["sorted", "efforts in"])
def test_an_import_that_is_killed_leaves_the_store_as_it_was(closed_store, big_file, where):
    before = dump(closed_store)
    pipe = subprocess.PIPE
    command = [sys.executable, "-c", CUT_OFF, str(closed_store.path), str(big_file), where]
    with subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True) as process:
        assert process.stdout is not None and process.stdout.readline() == "stopped\n"
        os.kill(process.pid, signal.SIGKILL)
    assert dump(closed_store) == before
    report = import_efforts(closed_store, read_table(big_file), "tester", add_athletes=True)
    assert report.stored == ROWS - 4
