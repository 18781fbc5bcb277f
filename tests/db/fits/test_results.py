from __future__ import annotations

from dataclasses import asdict, replace

import duckdb
import numpy as np
import pandas as pd
import pytest

from db.efforts.effort_changes import correct_effort
from db.efforts.rows import efforts
from db.efforts.typed_sessions import EffortEntry, SessionEntry, add_session
from db.errors import BadInput
from db.file.checks import check
from db.fits.exports import export_frame, write_export
from db.fits.fit_checks import BAND_COLUMNS, PLACE_COLUMNS, FitCheck, latest_check
from db.fits.kept_fits import Conclusions, keep_conclusions, keep_fit
from db.fits.results import (
    CURVE_COLUMNS,
    RESPONSE_COLUMNS,
    FitFacts,
    concluded,
    curves,
    latest_fit,
    newer_data,
    response_history,
    responses,
    session_peaks,
    squad_curve,
)
from tests.dashboard import artificial
from tests.db.conftest import HEADER, dump

FACTS = FitFacts(
    data_revision=1,
    settings_json='{"firm_chance": 0.8}',
    version="0.1.0",
    seconds=1.5,
    athletes=2,
    sessions=3,
    efforts=9,
    standard_volume=10.0,
    worthwhile_pct=1.5,
    best_single_volume=8.0,
    worth_of_individual_pct=0.9,
    worth_of_individual_pct_low=-0.1,
    worth_of_individual_pct_high=2.1,
    spread_log_sd=0.6,
    spread_log_sd_low=0.2,
    spread_log_sd_high=1.0,
    chance_athletes_differ=0.7,
    day_noise_pct=3.0,
    effort_noise_pct=2.0,
    warnings="few sessions\nwide",
)


def response_rows(**changes: object) -> pd.DataFrame:
    row = {
        "athlete": "A1",
        "sessions": 2,
        "efforts": 6,
        "last_session": pd.Timestamp("2026-03-02T09:00"),
        "best_volume": 5.0,
        "best_volume_low": 3.0,
        "best_volume_high": 9.0,
        "best_volume_q25": 4.0,
        "best_volume_q75": 6.0,
        "gain_pct": 6.0,
        "gain_pct_low": 2.0,
        "gain_pct_high": 10.0,
        "hold_volume": 20.0,
        "hold_volume_low": 10.0,
        "hold_volume_high": 40.0,
        "advised_volume": 4.0,
        "loss_at_standard_pct": 1.9,
        "loss_at_standard_pct_low": 0.2,
        "loss_at_standard_pct_high": 5.0,
        "chance_short": 0.85,
        "chance_long": 0.05,
        "chance_either": 0.1,
        "call": "short",
        "reach": "inside",
        "good_from": 5.0,
        "good_to": 9.0,
    } | changes
    unseen = row | {"athlete": "A2", "sessions": 0, "efforts": 0, "last_session": pd.NaT}
    return pd.DataFrame([row, unseen | {"call": "not known"}])


def check_of_fit(**changes: object) -> FitCheck:
    bands = pd.DataFrame(
        {
            "band": [1, 2],
            "efforts": [5, 4],
            "lowest_volume": [0.0, 4.0],
            "highest_volume": [3.0, 9.0],
            "mean_volume": [1.5, 6.0],
            "observed_pct": [-3.0, -1.2],
            "expected_pct": [-2.5, -1.1],
            "low_pct": [-2.9, -1.4],
            "high_pct": [-2.1, -0.8],
        }
    )
    places = pd.DataFrame(
        {"tenth": range(1, 11), "sessions": [1, 0, 0, 2, 0, 0, 0, 0, 0, 0], "fewest": 0, "most": 1}
    )
    check = FitCheck(1.9, 2.1, 2.5, 3.6, 3, 2, 9, 8, bands, places)
    return replace(check, **changes)


def curve_rows() -> pd.DataFrame:
    volume = np.linspace(0, 12, 4)
    one = pd.DataFrame({"volume": volume, "change_pct": -volume / 10})
    one = one.assign(change_pct_low=one["change_pct"] - 1, change_pct_high=one["change_pct"] / 2)
    return pd.concat([one.assign(athlete=code) for code in ("A1", "A2", None)])


def keep(store, measure: str = "jump_height", **changes: object) -> int:
    peaks = efforts(store, measure)[["session_id"]].drop_duplicates().assign(peak_value=42.0)
    facts = FitFacts(**(asdict(FACTS) | {"data_revision": store.revision()}))
    rows = response_rows(**changes)
    told = Conclusions(check=check_of_fit())
    return keep_fit(store, "coach", measure, facts, rows, curve_rows(), peaks, told)


@pytest.fixture
def fitted(store, bring):
    bring("A1,2026-03-01T09:00,jump_height,1,40,0", "A1,2026-03-02T09:00,jump_height,1,41,3")
    keep(store)
    return store


def test_conclusions_may_be_saved_after_the_curves(store, bring):
    bring("A1,2026-03-01T09:00,jump_height,1,40,0")
    peaks = efforts(store, "jump_height")[["session_id"]].assign(peak_value=42.0)
    assert not concluded(store, "jump_height")
    fit_id = keep_fit(store, "c", "jump_height", FACTS, response_rows(), curve_rows(), peaks)
    assert not concluded(store, "jump_height")
    found = Conclusions(check=check_of_fit(), findings=artificial.nothing_found())
    keep_conclusions(store, "c", "jump_height", fit_id, found)
    assert concluded(store, "jump_height")
    assert latest_check(store, "jump_height") is not None
    assert check(store) == []


def test_nothing_is_known_before_the_first_fit(store, bring):
    assert latest_fit(store, "jump_height") is None
    assert newer_data(store, "jump_height") == 0
    bring("A1,2026-03-01T09:00,jump_height,1,40,0")
    assert newer_data(store, "jump_height") == 1
    assert responses(store, "jump_height").empty
    assert curves(store, "jump_height").empty
    assert squad_curve(store, "jump_height").empty


def test_a_fit_comes_back_as_it_was_saved(fitted):
    fit = latest_fit(fitted, "jump_height")
    assert fit is not None
    kept = asdict(fit)
    assert {name: kept[name] for name in asdict(FACTS) if name != "data_revision"} == {
        name: value for name, value in asdict(FACTS).items() if name != "data_revision"
    }
    assert (fit.measure, fit.data_revision) == ("jump_height", fitted.revision() - 1)
    assert fit.fitted_at.tzinfo is not None
    found = responses(fitted, "jump_height")
    pd.testing.assert_frame_equal(
        found[RESPONSE_COLUMNS], response_rows()[RESPONSE_COLUMNS], check_dtype=False
    )
    assert found[["name", "active"]].values.tolist() == [["A1", True], ["A2", True]]
    assert "position" in found
    expected = curve_rows()
    pd.testing.assert_frame_equal(
        curves(fitted, "jump_height"),
        expected[expected["athlete"].notna()][CURVE_COLUMNS].reset_index(drop=True),
        check_dtype=False,
    )
    assert curves(fitted, "jump_height", "A2")["athlete"].unique().tolist() == ["A2"]
    squad = squad_curve(fitted, "jump_height")
    assert list(squad.columns) == CURVE_COLUMNS[1:]
    assert squad["volume"].tolist() == [0.0, 4.0, 8.0, 12.0]
    peaks = session_peaks(fitted, "jump_height", "A1")
    assert peaks["peak_value"].tolist() == [42.0, 42.0]
    assert peaks["started_at"].is_monotonic_increasing
    assert check(fitted) == []


def test_the_check_of_a_fit_comes_back_as_it_was_saved(fitted):
    kept, given = latest_check(fitted, "jump_height"), check_of_fit()
    assert kept is not None
    for frame, columns in (("bands", BAND_COLUMNS), ("places", PLACE_COLUMNS)):
        pd.testing.assert_frame_equal(
            getattr(kept, frame), getattr(given, frame)[columns], check_dtype=False
        )
    assert replace(kept, bands=given.bands, places=given.places) == replace(
        given, bands=given.bands, places=given.places
    )
    assert latest_check(fitted, "throw_speed") is None


def test_a_fit_without_a_check_has_none_even_if_an_older_one_had(fitted):
    peaks = pd.DataFrame({"session_id": [], "peak_value": []})
    keep_fit(fitted, "coach", "jump_height", FACTS, response_rows(), curve_rows(), peaks)
    assert latest_check(fitted, "jump_height") is None
    assert export_frame(fitted, "bands").empty
    assert check(fitted) == []


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"day_noise_pct_high": float("inf")}, "checks of a fit have a day_noise_pct_high that is"),
        (
            {"bands": pd.DataFrame({"band": [1]})},
            "bands of volume of a fit have no column efforts",
        ),
        (
            {"places": check_of_fit().places.assign(most=np.nan)},
            "places of sessions of a fit have a most that is missing",
        ),
    ],
)
def test_an_incomplete_check_is_refused_with_its_fit(fitted, changes, sentence):
    before = dump(fitted)
    peaks = pd.DataFrame({"session_id": [], "peak_value": []})
    told = Conclusions(check=check_of_fit(**changes))
    rows = (FACTS, response_rows(), curve_rows(), peaks, told)
    with pytest.raises(BadInput, match=sentence):
        keep_fit(fitted, "coach", "jump_height", *rows)
    assert dump(fitted) == before


@pytest.mark.parametrize(
    ("table", "change"),
    [
        ("fit_check", "sessions_inside = 4"),
        ("fit_check", "efforts_inside = 10"),
        ("fit_check", "day_noise_pct_low = 4"),
        ("volume_band", "expected_pct = 0"),
        ("volume_band", "mean_volume = 20"),
        ("session_place", "most = -1"),
    ],
)
def test_tables_refuse_checks_that_contradict_themselves(fitted, table, change):
    with pytest.raises(duckdb.ConstraintException, match=f'CHECK.*table "{table}"'):
        with fitted.writing("tester", "break") as cursor:
            cursor.execute(f"UPDATE {table} SET {change}")


def test_data_stored_while_a_fit_ran_are_newer_than_it(fitted, bring):
    before = fitted.revision()
    bring("A2,2026-03-02T09:00,jump_height,1,41,3", "A2,2026-03-02T09:00,jump_height,2,41,4")
    peaks = pd.DataFrame({"session_id": [], "peak_value": []})
    facts = replace(FACTS, data_revision=before)
    keep_fit(fitted, "coach", "jump_height", facts, response_rows(), curve_rows(), peaks)
    assert newer_data(fitted, "jump_height") == 2


def test_older_fits_stay_and_the_newest_counts(fitted):
    first = latest_fit(fitted, "jump_height")
    second = keep(fitted, best_volume=7.0)
    assert first is not None and second > first.fit_id
    assert responses(fitted, "jump_height", "A1")["best_volume"].tolist() == [7.0]
    assert responses(fitted, "jump_height", "A1", first.fit_id)["best_volume"].tolist() == [5.0]
    history = response_history(fitted, "jump_height", "A1")
    assert history["best_volume"].tolist() == [5.0, 7.0]
    assert history["fit_id"].tolist() == [first.fit_id, second]
    assert latest_fit(fitted, "throw_speed") is None
    assert len(curves(fitted, "jump_height", "A1")) == 4


def test_newer_data_counts_what_was_stored_or_changed_since(fitted):
    assert newer_data(fitted, "jump_height") == 0
    entry = SessionEntry("A2", "jump_height", pd.Timestamp("2026-03-05T09:00").to_pydatetime(), ())
    add_session(
        fitted,
        SessionEntry(entry.athlete, entry.measure, entry.started_at, (EffortEntry(1, 39.0, 2),)),
        "coach",
    )
    assert newer_data(fitted, "jump_height") == 1
    number = int(efforts(fitted, "jump_height")["effort_id"].iloc[0])
    correct_effort(fitted, number, 43.0, "typed wrongly", "coach")
    assert newer_data(fitted, "jump_height") == 2
    assert newer_data(fitted, "throw_speed") == 0
    keep(fitted)
    assert newer_data(fitted, "jump_height") == 0


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"best_volume": float("inf")}, "responses of a fit have a best_volume that is missing"),
        ({"gain_pct": float("nan")}, "responses of a fit have a gain_pct that is missing"),
        ({"call": None}, "have a call that is missing"),
    ],
)
def test_results_that_are_not_numbers_are_refused_as_a_whole(fitted, change, sentence):
    before = dump(fitted)
    with pytest.raises(BadInput, match=sentence):
        keep(fitted, **change)
    with pytest.raises(BadInput, match="responses of a fit have no column reach"):
        keep_fit(
            fitted,
            "coach",
            "jump_height",
            FACTS,
            response_rows().drop(columns="reach"),
            curve_rows(),
            pd.DataFrame({"session_id": [], "peak_value": []}),
        )
    with pytest.raises(BadInput, match="no measure 'none'"):
        keep(fitted, measure="none")
    assert dump(fitted) == before


EXPORTED = {
    "responses": (
        "athlete, measure, volume_unit, sessions, efforts, last_session, best_volume, "
        "best_volume_low, best_volume_high, gain_pct, gain_pct_low, gain_pct_high, hold_volume, "
        "hold_volume_low, hold_volume_high, advised_volume, loss_at_standard_pct, "
        "loss_at_standard_pct_low, loss_at_standard_pct_high, chance_short, chance_long, "
        "chance_either, call, reach, good_from, good_to"
    ),
    "curves": "athlete, measure, volume, change_pct, change_pct_low, change_pct_high",
    "bands": (
        "measure, lowest_volume, highest_volume, mean_volume, efforts, observed_pct, "
        "expected_pct, low_pct, high_pct"
    ),
    "efforts": (
        "athlete, started_at, measure, effort, value, volume_before, kind, context, "
        "general_minutes, rest_minutes, effort_rest_seconds, ambient_c, days_since_game, "
        "load_kg, planned_volume, freshness, joints, mobility, pain, note, excluded"
    ),
    "set-aside": (
        "batch_id, file, line, athlete, started_at, measure, effort, value, column, reason, "
        "row_text, at"
    ),
}


@pytest.mark.parametrize("what", EXPORTED)
def test_exports_have_exactly_their_columns(fitted, bring, what):
    bring("A9,2026-03-01T09:00,jump_height,1,40,0", "A1,2026-03-04T09:00,sprint_10m,1,1.8,0")
    frame = export_frame(fitted, what)
    assert list(frame.columns) == EXPORTED[what].split(", ")
    rows = {"responses": 2, "curves": 8, "bands": 2, "efforts": 3, "set-aside": 1}
    assert len(frame) == rows[what]
    of_sprint = export_frame(fitted, what, "sprint_10m")
    assert list(of_sprint.columns) == list(frame.columns)
    assert len(of_sprint) == (1 if what == "efforts" else 0)


def test_exported_efforts_can_be_imported_again(fitted, bring, tmp_path, made_once):
    import shutil

    from db.file.store import Store
    from db.imports.effort_files import read_table
    from db.imports.storing import import_efforts

    bring(
        "A1,2026-03-07T09:00:30.25-03:30,bar_speed,1,0.123456789012345,0,test,yes,'=1+1,",
        "A1,2026-03-07T09:00+05:45,bar_speed,1,0.4,0,,,,",
        "A1,2026-03-08T09:00,bar_speed,1,0.5,0,,no,\"two, 'words'\",-slipped",
        header=f"{HEADER},context,pain,note,excluded",
    )
    frame = export_frame(fitted, "efforts")
    assert frame["started_at"][:2].tolist() == [
        "2026-03-07T09:00:00+05:45",
        "2026-03-07T09:00:30.25-03:30",
    ]
    other = tmp_path / "other.duckdb"
    shutil.copyfile(made_once, other)
    for target, ending in ((Store(other), "csv"), (Store(other), "parquet")):
        path = tmp_path / f"efforts.{ending}"
        write_export(frame, path)
        report = import_efforts(target, read_table(path), "tester")
        assert report.set_aside == 0
        assert report.stored == (5 if ending == "csv" else 0)
        pd.testing.assert_frame_equal(export_frame(target, "efforts"), frame)


def test_csv_exports_hold_no_formulas(fitted, tmp_path):
    frame = pd.DataFrame(
        {"athlete": ["=1+1", "+x", "-x", "@x", "\tx", "'=x", "plain"], "change_pct": [-1.5] * 7}
    )
    path = tmp_path / "x.csv"
    write_export(frame, path)
    back = pd.read_csv(path, dtype={"athlete": str})
    assert back["athlete"].tolist() == ["'=1+1", "'+x", "'-x", "'@x", "'\tx", "''=x", "plain"]
    assert back["change_pct"].tolist() == [-1.5] * 7
    write_export(frame, tmp_path / "x.parquet")
    assert pd.read_parquet(tmp_path / "x.parquet")["athlete"].tolist() == frame["athlete"].tolist()
    assert sorted(file.name for file in tmp_path.iterdir() if "x." in file.name) == [
        "x.csv",
        "x.parquet",
    ]


def test_exports_that_cannot_be_made(fitted, tmp_path):
    with pytest.raises(BadInput, match="no export 'squads'. The exports are responses, curves"):
        export_frame(fitted, "squads")
    frame = export_frame(fitted, "curves")
    with pytest.raises(BadInput, match=r"as \.csv or \.parquet, and x\.txt is neither"):
        write_export(frame, tmp_path / "x.txt")
    with pytest.raises(BadInput, match="cannot be written: No such file or directory"):
        write_export(frame, tmp_path / "none" / "x.csv")
