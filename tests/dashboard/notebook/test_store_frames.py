"""A store as frames: the rows of the exports, with the documented columns."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pandas as pd
import pytest

from dashboard import StoreFrames, open_store
from dashboard.app.exports import export_rows
from db.errors import StoreMissing
from db.file.store import Store
from db.fits.export_names import EXPORTS, ExportName
from db.plans.lengths import PlanEntry, save_choice
from modeling import ResponseModel
from tests.dashboard.conftest import add_routine_sessions
from tests.export_columns import documented

GUIDE = Path(__file__).parents[3] / "docs/python.md"
SHELL = Path(__file__).parents[3] / "docs/duckdb.md"


@pytest.fixture
def frames(shown_store: Store) -> StoreFrames:
    return open_store(shown_store.path)


def test_frames_equal_the_exports_and_the_efforts_can_be_fitted(
    shown_store: Store, frames: StoreFrames
) -> None:
    for what in ("efforts", "responses", "curves"):
        found = getattr(frames, what)("jump_height")
        pd.testing.assert_frame_equal(found, export_rows(shown_store, what, "jump_height"))
        assert len(found) == len(getattr(frames, what)())
    efforts = frames.efforts()
    model = ResponseModel(rounds=1).fit(efforts, efforts["value"])
    assert set(model.responses_) == set(efforts["athlete"])


def test_sessions_count_their_efforts(frames: StoreFrames) -> None:
    efforts, sessions = frames.efforts(), frames.sessions("jump_height")
    assert sessions["efforts"].sum() == len(efforts)
    assert sessions["excluded_efforts"].sum() == efforts["excluded"].notna().sum()
    assert sessions["started_at"].is_monotonic_decreasing
    assert frames.sessions("throw_speed").empty


def test_plans_leave_out_the_reason(filled_store: Store) -> None:
    for volume in (18.0, 20.0):
        plan = PlanEntry(
            day=date(2026, 3, 7),
            athlete="A1",
            measure="jump_height",
            goal="best",
            efforts_to_follow=1,
            advised_volume=25.0,
            standard_volume=15.0,
            chosen_volume=volume,
            reason="knee",
        )
        save_choice(filled_store, plan, "carl")
    plans = open_store(filled_store.path).plans()
    assert plans["chosen_volume"].tolist() == [20.0]
    assert not plans.isin(["knee"]).any(axis=None)
    assert open_store(filled_store.path).plans("throw_speed").empty


def test_frames_have_the_columns_that_the_guide_lists(frames: StoreFrames) -> None:
    listed = re.findall(r"^\| `(\w+)\(\)` \| (.*?) \|", GUIDE.read_text(), re.MULTILINE)
    told = {what: re.findall(r"`(\w+)`", columns) for what, columns in listed}
    assert told == {
        what: list(getattr(frames, what)())
        for what in ("efforts", "sessions", "responses", "curves", "plans")
    }


@pytest.mark.parametrize("what", EXPORTS)
def test_every_column_of_an_export_is_in_the_data_dictionary(
    filled_store: Store, what: ExportName
) -> None:
    add_routine_sessions(filled_store)
    described = [column for column, _ in documented()[what]]
    assert list(export_rows(filled_store, what)) == described


def test_the_guides_views_and_queries_work(shown_store: Store) -> None:
    text = SHELL.read_text()
    listed = set(re.findall(r"^\| `(\w+)` \|", text, re.MULTILINE))
    queries = re.findall(r"```sql\n(.*?)```", text, re.DOTALL)
    assert len(queries) == 3
    assert set(re.findall(r"FROM (\w+)", " ".join(queries))) <= listed
    with shown_store.reading() as cursor:
        views = cursor.execute("SELECT view_name, comment FROM duckdb_views()").fetchall()
        assert listed <= {name for name, comment in views if comment}
        for view in listed:
            cursor.execute(f"SELECT * FROM {view}").fetchall()
        assert all(cursor.execute(query).fetchall() for query in queries)


def test_a_missing_file_is_reported_and_not_made(tmp_path: Path) -> None:
    with pytest.raises(StoreMissing, match=r"nothing\.duckdb"):
        open_store(tmp_path / "nothing.duckdb")
    assert not list(tmp_path.glob("nothing*"))
