from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import numpy as np
import pandas as pd
import pytest

from db.checks import check
from db.effort_files import read_table
from db.imports import import_efforts
from tests.db.conftest import dump

ROWS, BAR_SECONDS = 100_000, 8.0

# The import is stopped for good at the named place, and tells so.
CUT_OFF = """
import sys, time
from pathlib import Path
import db.imports
from db.store import Store

def stop(*_):
    print("stopped", flush=True)
    time.sleep(60)

def progress(share, what):
    if where == "sorted" and what.startswith("Storing"):
        stop()

where = sys.argv[3]
if where == "efforts in":
    db.imports._fill_facts = stop
table = db.effort_files.read_table(Path(sys.argv[2]))
db.imports.import_efforts(Store(sys.argv[1]), table, "other", True, progress)
"""


@pytest.fixture(scope="module")
def big_file(tmp_path_factory: pytest.TempPathFactory):
    """100,000 efforts with every fact, some of them faulty and some doubled."""
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
    frame[: ROWS // 50].to_csv(path.with_name("part.csv"), index=False)
    return path


@pytest.mark.timed
def test_a_big_file_is_imported_within_the_bar(closed_store, big_file, record_property, capsys):
    began = time.perf_counter()
    report = import_efforts(closed_store, read_table(big_file), "tester", add_athletes=True)
    seconds = time.perf_counter() - began
    with capsys.disabled():
        print(f"\n{ROWS:,} rows imported in {seconds:.2f} s (bar {BAR_SECONDS:g} s)")
    assert (report.stored, report.known, report.set_aside) == (ROWS - 200, 100, 100)
    assert check(closed_store) == []
    assert seconds < BAR_SECONDS


@pytest.mark.parametrize("where", ["sorted", "efforts in"])
def test_an_import_that_is_killed_leaves_the_store_as_it_was(closed_store, big_file, where):
    before = dump(closed_store)
    file = big_file.with_name("part.csv")
    command = [sys.executable, "-c", CUT_OFF, str(closed_store.path), str(file), where]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None and process.stdout.readline() == "stopped\n"
        os.kill(process.pid, signal.SIGKILL)
    assert dump(closed_store) == before
    report = import_efforts(closed_store, read_table(file), "tester", add_athletes=True)
    assert report.stored == (ROWS - 200) // 50
