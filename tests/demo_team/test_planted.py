from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from db.file.store import Store
from db.imports.effort_files import read_table
from db.imports.past_imports import set_aside_rows
from db.imports.storing import import_efforts
from db.roster.athletes import read_athletes_file, save_athletes
from demo_team.build import FOLDER, build
from demo_team.club import ACCOUNTS, MEASURES
from demo_team.days import LATE_TESTS
from demo_team.mistakes import NOT_USED, SET_ASIDE, USED
from demo_team.planted import PLANTED
from modeling import ResponseModel
from tests.demo_team.usable_rows import usable_rows

WORTHWHILE_PCT = {"jump_height": 1.5, "throw_speed": 1.0}
LIMITS = {"jump_height": (5.0, 150.0), "throw_speed": (3.0, 60.0)}

Models = dict[str, ResponseModel]


@pytest.fixture(scope="module")
def models() -> Models:
    fitted = {}
    for measure, facts in MEASURES.items():
        rows = usable_rows(measure)
        model = ResponseModel(
            standard_volume=facts.standard_volume, worthwhile_pct=WORTHWHILE_PCT[measure]
        )
        fitted[measure] = model.fit(rows, rows["value"])
    return fitted


def written(measure: str) -> pd.DataFrame:
    table = pd.read_csv(FOLDER / f"{measure}.csv", dtype=str, keep_default_na=False)
    return table.set_index(pd.RangeIndex(2, len(table) + 2))


def planted_for(measure: str, story: str) -> list[str]:
    return [code for code, plan in PLANTED[measure].items() if plan.story == story]


def test_the_script_makes_the_committed_files_byte_for_byte(tmp_path: Path) -> None:
    made = build(tmp_path)
    assert len(made) == 10
    for path in made:
        assert path.read_bytes() == (FOLDER / path.name).read_bytes(), path.name
    assert sum(path.stat().st_size for path in made) < 2_000_000


def test_every_account_of_an_athlete_belongs_to_one_of_the_squad() -> None:
    squad = set(pd.read_csv(FOLDER / "athletes.csv")["athlete"])
    assert len(squad) == 26
    assert [account.role for account in ACCOUNTS] == ["director", "coach", "athlete"]
    assert all(len(account.password) >= 10 for account in ACCOUNTS)
    assert [account.athlete in squad for account in ACCOUNTS] == [False, False, True]


@pytest.mark.parametrize("measure", MEASURES)
def test_the_mistakes_are_on_the_lines_listed(measure: str) -> None:
    listed = pd.read_csv(FOLDER / "mistakes.csv", dtype=str, keep_default_na=False)
    table = written(measure)
    own = listed[listed["file"] == f"{measure}.csv"]
    for line, column, cell in zip(own["line"], own["column"], own["written"], strict=True):
        assert table.at[int(line), column] == cell
    assert len(own) >= 4
    assert set(listed["outcome"]) == {SET_ASIDE, NOT_USED, USED}


def test_a_store_sets_aside_just_the_lines_that_are_listed(tmp_path: Path) -> None:
    store = Store(tmp_path / "squad.duckdb")
    store.create()
    save_athletes(store, read_athletes_file(FOLDER / "athletes.csv"), "coach")
    for measure in MEASURES:
        path = FOLDER / f"{measure}.csv"
        import_efforts(store, read_table(path, path.name), "coach")
    found = set_aside_rows(store)
    listed = pd.read_csv(FOLDER / "mistakes.csv")
    listed = listed[listed["outcome"] == SET_ASIDE]
    columns = ["file", "line", "column"]
    assert set(found[columns].itertuples(index=False, name=None)) == set(
        listed[columns].itertuples(index=False, name=None)
    )
    assert len(found) == len(listed) == 9


@pytest.mark.parametrize("measure", MEASURES)
def test_the_rows_left_after_the_listed_mistakes_are_sound(measure: str) -> None:
    rows = usable_rows(measure)
    lowest, highest = LIMITS[measure]
    assert rows["value"].between(lowest, highest).all()
    assert rows["volume"].ge(0).all()
    assert not rows.duplicated(["session", "volume"]).any()
    assert set(rows["athlete"]) == set(PLANTED[measure])
    days = pd.to_datetime(rows["day"], unit="D")
    assert days.min() >= pd.Timestamp("2026-08-01")
    assert days.max() < pd.Timestamp("2026-11-25")


@pytest.mark.parametrize("measure", MEASURES)
def test_each_athlete_has_the_planned_tests_except_while_out(measure: str) -> None:
    sessions = usable_rows(measure).drop_duplicates("session")
    counts = sessions.groupby(["athlete", "kind"]).size().unstack(fill_value=0)
    truth = pd.read_csv(FOLDER / "truth.csv").query("measure == @measure").set_index("athlete")
    left_out = 0
    for code, plan in PLANTED[measure].items():
        planned = plan.fade_tests + ((measure, code) in LATE_TESTS)
        assert counts.at[code, "fade"] == truth.at[code, "fade_tests"] <= planned, code
        assert counts.at[code, "routine"] == truth.at[code, "routine_sessions"], code
        assert counts.at[code, "routine"] >= plan.training_sessions, code
        left_out += planned - counts.at[code, "fade"]
    assert left_out == {"jump_height": 2, "throw_speed": 0}[measure]


@pytest.mark.parametrize("measure", MEASURES)
def test_the_facts_of_a_session_are_the_same_on_each_of_its_rows(measure: str) -> None:
    session = ["athlete", "started_at", "kind"]
    facts = written(measure).drop(columns=["effort", "value", "volume_before", "excluded"])
    assert facts.groupby(session).nunique().to_numpy().max() == 1


@pytest.mark.parametrize("story", ["late", "very late"])
def test_late_peaks_are_called_long_and_lie_inside_the_interval(models: Models, story: str) -> None:
    [code] = planted_for("jump_height", story)
    late = models["jump_height"].response(code)
    assert late.call == "long"
    assert late.best_volume.low <= PLANTED["jump_height"][code].best_volume
    assert PLANTED["jump_height"][code].best_volume <= late.best_volume.high


def test_the_early_fader_is_called_short(models: Models) -> None:
    [code] = planted_for("jump_height", "early")
    early = models["jump_height"].response(code)
    assert early.call == "short"
    assert early.best_volume.high < 6


@pytest.mark.parametrize("measure", MEASURES)
def test_nobody_for_whom_the_standard_is_fine_is_told_to_change(
    models: Models, measure: str
) -> None:
    calls = [models[measure].response(code).call for code in planted_for(measure, "fine")]
    assert len(calls) >= 4
    assert calls.count("either") >= len(calls) / 2
    assert set(calls) <= {"either", "not known"}


@pytest.mark.parametrize("measure", MEASURES)
def test_the_intervals_hold_three_in_four_of_the_true_peaks(models: Models, measure: str) -> None:
    inside = []
    for code, plan in PLANTED[measure].items():
        if plan.fade_tests >= 2:
            best = models[measure].response(code).best_volume
            inside.append(best.low <= plan.best_volume <= best.high)
    assert len(inside) >= 12
    assert np.mean(inside) >= 0.75


def test_one_session_is_not_enough_for_a_call(models: Models) -> None:
    [code] = planted_for("jump_height", "one session")
    lone = models["jump_height"].response(code)
    assert (lone.sessions, lone.call) == (1, "not known")


def test_an_athlete_without_data_gets_the_curve_of_the_squad(models: Models) -> None:
    model = models["jump_height"]
    assert "H26" not in model.responses_
    newcomer = model.response("H26")
    assert (newcomer.sessions, newcomer.efforts, newcomer.call) == (0, 0, "not known")
    np.testing.assert_allclose(newcomer.curve.change_pct, model.squad_.curve.change_pct, rtol=1e-9)
    assert newcomer.best_volume.high > 2 * newcomer.best_volume.low
