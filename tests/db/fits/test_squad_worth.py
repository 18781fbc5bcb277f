"""Changes of best volume, worth of own lengths and the export of the squad."""

from __future__ import annotations

import duckdb
import pandas as pd
import pytest

from db.efforts.rows import observations
from db.errors import BadInput
from db.file.checks import check
from db.fits.best_volume_changes import best_volume_changes
from db.fits.exports import export_frame
from db.fits.kept_fits import Conclusions, keep_fit
from db.fits.squad_worth import squad_worth
from tests.dashboard import artificial
from tests.db.conftest import dump
from tests.db.fits.test_results import FACTS, check_of_fit, curve_rows, response_rows

DAYS = [f"A1,2026-03-{day:02d}T09:00,jump_height,1,40,{day}" for day in range(1, 6)]


def changes(sessions: list[int], **columns: object) -> pd.DataFrame:
    tested = pd.DataFrame(
        {"athlete": ["A1"] * 5 + ["A2"] * 5 + ["A3"] * 5, "session_id": sessions * 3}
    )
    return artificial.changes(tested).head(1).assign(**columns)


def keep(store, changes: pd.DataFrame | None = None, worth: pd.DataFrame | None = None) -> int:
    peaks = observations(store, "jump_height")[["session_id"]].assign(peak_value=42.0)
    return keep_fit(
        store,
        "c",
        "jump_height",
        FACTS,
        response_rows(),
        curve_rows(),
        peaks,
        Conclusions(check=check_of_fit(), changes=changes),
        worth=worth,
    )


@pytest.fixture
def sessions(store, bring) -> list[int]:
    bring(*DAYS)
    return sorted(observations(store, "jump_height")["session_id"])


def test_changes_come_back_with_the_dates_of_their_sessions(store, sessions):
    keep(store, changes=changes(sessions), worth=artificial.worth().assign(athletes=4))
    (row,) = best_volume_changes(store, "jump_height", "A1").to_dict("records")
    assert (row["chance"], row["tellable"], row["after_high"]) == (0.93, True, 52.0)
    days = [row[name].day for name in ("since_earliest", "since", "since_latest")]
    assert days == [3, 4, 5]
    assert best_volume_changes(store, "jump_height", least_chance=0.95).empty
    assert best_volume_changes(store, "jump_height", "A2").empty
    assert check(store) == []


def test_worth_comes_back_as_it_was_and_is_exported_with_the_squad(store, sessions):
    keep(store, changes=changes(sessions), worth=artificial.worth())
    pd.testing.assert_frame_equal(
        squad_worth(store, "jump_height"), artificial.worth(), check_dtype=False
    )
    with store.writing("c", "constants") as cursor:
        cursor.execute(
            "INSERT INTO advice_base VALUES (1, 15, 0, 0, 20, 16, [0, 1]); INSERT INTO "
            "account_constant VALUES (1, 'half_life_minutes', 'learned', 20, 15, NULL), "
            "(1, 'general_per_minute', 'default', 0.2, 0.1, 0.5)"
        )
    (row,) = export_frame(store, "squad", "jump_height").to_dict("records")
    assert list(row)[:3] == ["measure", "athletes", "best_single_volume"]
    assert (row["spread_log_sd_high"], row["chance_athletes_differ"]) == (1.0, 0.7)
    assert (row["worth_over_standard_pct_low"], row["gaining_over_standard"]) == (2.0, 3.0)
    assert (row["half_life_minutes"], row["half_life_minutes_status"]) == (20.0, "learned")
    assert pd.isna(row["half_life_minutes_high"])
    assert (row["general_per_minute_high"], row["general_per_minute_status"]) == (0.5, "default")


def test_a_fit_of_an_earlier_version_is_exported_without_them(store, sessions):
    keep(store)
    assert squad_worth(store, "jump_height").empty
    (row,) = export_frame(store, "squad").to_dict("records")
    assert row["worth_of_individual_pct"] == FACTS.worth_of_individual_pct
    assert pd.isna(row["worth_over_standard_pct"]) and pd.isna(row["stretch_per_hour"])


def test_incomplete_results_are_not_saved_even_in_part(store, sessions):
    before = dump(store)
    with pytest.raises(BadInput, match="changes of best volume of a fit have a after that is"):
        keep(store, changes=changes(sessions, after=float("nan")))
    with pytest.raises(BadInput, match="worth of own lengths of a fit have no column"):
        keep(store, worth=artificial.worth().drop(columns="gaining"))
    assert dump(store) == before


def test_no_more_athletes_gain_than_there_are(store, sessions):
    keep(store, worth=artificial.worth())
    with pytest.raises(duckdb.ConstraintException, match='CHECK.*table "squad_worth"'):
        with store.writing("tester", "break") as cursor:
            cursor.execute("UPDATE squad_worth SET gaining_high = 5")
