"""Next tests are saved with their fit, and listed and exported with the highest worth first."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from db.efforts.rows import efforts
from db.errors import BadInput
from db.fits.exports import export_frame
from db.fits.kept_fits import Conclusions, keep_fit
from db.fits.next_tests import NEXT_TEST_COLUMNS, latest_next_tests
from db.roster.athletes import save_athletes
from tests.db.fits.test_results import FACTS, curve_rows, response_rows


def keep(store, rows):
    peaks = efforts(store, "jump_height")[["session_id"]].drop_duplicates().assign(peak_value=42.0)
    told = Conclusions(next_tests=rows)
    keep_fit(store, "coach", "jump_height", FACTS, response_rows(), curve_rows(), peaks, told)


@pytest.fixture
def rows():
    return pd.DataFrame(
        [
            ("A1", "fade", 0.0, 0.1, 0.0, 30.0, 12.0, 70.0),
            ("A1", "routine", 8.0, 0.02, 0.0, 3.0, 3.0, 3.0),
            ("A2", "fade", 0.0, 0.4, 2.0, 20.0, 8.0, 40.0),
            ("A2", "routine", 12.0, 0.05, np.nan, 3.0, 3.0, 3.0),
        ],
        columns=NEXT_TEST_COLUMNS,
    )


def test_next_tests_are_listed_and_exported_with_the_highest_worth_first(store, bring, rows):
    bring("A1,2026-03-01T09:00,jump_height,1,40,0")
    assert latest_next_tests(store, "jump_height").empty
    keep(store, rows)
    listed = latest_next_tests(store, "jump_height")
    assert listed["worth_pct"].tolist() == [0.4, 0.1, 0.05, 0.02]
    assert listed["sessions_to_firm_call"].isna().tolist() == [False, False, True, False]
    assert latest_next_tests(store, "jump_height", "A1")["kind"].tolist() == ["fade", "routine"]
    exported = export_frame(store, "next-tests", "jump_height")
    assert list(exported) == ["athlete", "measure", *NEXT_TEST_COLUMNS[1:]]
    assert exported["athlete"].tolist() == ["A2", "A1", "A2", "A1"]
    save_athletes(store, pd.DataFrame({"athlete": ["A2"], "active": ["no"]}), "coach")
    assert set(latest_next_tests(store, "jump_height")["athlete"]) == {"A1"}
    keep(store, rows.head(0))
    assert latest_next_tests(store, "jump_height").empty


def test_a_fit_with_a_missing_worth_is_refused_as_a_whole(store, bring, rows):
    bring("A1,2026-03-01T09:00,jump_height,1,40,0")
    with pytest.raises(BadInput, match="next tests of a fit have a worth_pct that is missing"):
        keep(store, rows.assign(worth_pct=np.nan))
    assert export_frame(store, "responses").empty
