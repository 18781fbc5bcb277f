"""The page of data checks: what it lists, and what its buttons do."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from dashboard.data import finding_words
from dashboard.fits.fit_frames import finding_rows
from dashboard.screen import units
from db.efforts.rows import efforts, observations
from db.file.store import Store
from db.fits.findings import decided_findings, open_findings
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.people.accounts import Person, add_person
from db.roster.athletes import save_athletes
from modeling.checks.data_checks import KINDS, DataCheck, Finding
from modeling.checks.session_faults import FACTORS
from tests.dashboard.conftest import HASH, SignIn, keep_artificial_fit, told

JUMP = "jump_height"
HEADER = "athlete,started_at,measure,effort,value,volume_before,kind"


def number(store: Store, kind: str) -> int:
    return int(open_findings(store, JUMP).set_index("kind").loc[kind, "finding_id"])


def decide(page: AppTest, finding: int, label: str, reason: str = "", turn: int = 0) -> AppTest:
    page.text_input(key=f"finding_why_{finding}_{turn}").set_value(reason)
    [button] = [b for b in page.button if b.label == label and f"finding_{finding}_" in b.form_id]
    button.click()
    return page.run()


def state(store: Store) -> list[list[object]]:
    rows = efforts(store, JUMP)
    return rows[["effort_id", "value", "excluded"]].fillna("used").values.tolist()


def test_everything_found_is_listed_with_its_numbers(filled_store: Store, sign_in: SignIn) -> None:
    page = sign_in(filled_store, "dora", "data_checks")
    text = told(page)
    assert page.header[0].value == "6 findings to decide"
    assert "In 204 efforts of 17 sessions: other units (1), exchanged athletes (1)" in text
    assert "Short Two, 10 March 2026: all 12 efforts are 0.394 times what is expected" in text
    assert "Inches where centimetres were meant?" in text
    assert "Long One, 10 March 2026: effort 1 is" in text
    assert "12.5 % below the 40 expected" in text
    assert "The athlete's efforts vary by 2.3 % (from 60 efforts)." in text
    assert "Long One and Either Three, 11 March 2026: the two sessions" in text
    assert "Exchanged, they are 420 times likelier" in text
    assert "the 12 efforts of 12 March 2026, 10:00 stand again on 13 March 2026" in text
    assert "The chance of anything like it in correct data of this size: under 1 %." in text
    [unit, *_] = [frame.value for frame in page.dataframe]
    assert {"value, cm", "would be", "expected", "difference, %"} <= set(unit.columns)
    assert unit["would be"].iloc[0] == pytest.approx(2.54 * unit["value, cm"].iloc[0], abs=0.01)
    assert "The first 5 are shown, 1 more to follow as these are decided." in text
    decide(page, number(filled_store, "unit"), "They are right")
    text = told(page)
    assert "All athletes measured on" in text and "12.5 % low, and every session after" in text
    assert "to follow" not in text


def test_what_is_right_is_accepted_without_a_change(filled_store: Store, sign_in: SignIn) -> None:
    page = sign_in(filled_store, "carl", "data_checks")
    before = state(filled_store)
    decide(page, number(filled_store, "effort"), "It is right")
    assert "It does not come back while its values stay as they are." in told(page)
    assert state(filled_store) == before
    assert page.header[0].value == "5 findings to decide"
    keep_artificial_fit(filled_store)
    page = sign_in(filled_store, "carl", "data_checks")
    assert page.header[0].value == "5 findings to decide"


def test_an_exclusion_needs_a_reason_and_is_undone(filled_store: Store, sign_in: SignIn) -> None:
    page = sign_in(filled_store, "dora", "data_checks")
    before, finding = state(filled_store), number(filled_store, "jump")
    assert "needs a reason" in told(decide(page, finding, "Exclude all"))
    assert state(filled_store) == before
    decide(page, finding, "Exclude all", "slipped floor")
    assert "12 efforts not used any more; nothing was deleted." in told(page)
    assert "12 new efforts are not in the curves yet." in told(page)
    assert [why for *_, why in state(filled_store)].count("slipped floor") == 12
    assert page.header[1].value == "1 decision"
    page.text_input(key="undo_why_1").set_value("it was dry")
    next(b for b in page.button if b.label == "Undo it").click().run()
    assert "Undone: the efforts are as they were before" in told(page)
    assert state(filled_store) == before
    assert page.header[0].value == "6 findings to decide"


def test_a_session_in_inches_is_multiplied_as_a_whole(filled_store: Store, sign_in: SignIn) -> None:
    page = sign_in(filled_store, "dora", "data_checks")
    finding = number(filled_store, "unit")
    page.number_input(key=f"finding_by_{finding}_0").set_value(2.0).run()
    before = [value for _, value, _ in state(filled_store)]
    decide(page, finding, "Multiply all 12 by 2", "inches")
    after = [value for _, value, _ in state(filled_store)]
    assert "12 efforts corrected; what stood there is kept." in told(page)
    assert sum(new == pytest.approx(2 * old) for old, new in zip(before, after, strict=True)) == 12


def test_a_single_value_is_corrected(filled_store: Store, sign_in: SignIn) -> None:
    """Values are shown in the club's units and typed in the measure's."""
    units.keep_system(filled_store, "imperial", "dora")
    page = sign_in(filled_store, "dora", "data_checks")
    finding = number(filled_store, "effort")
    assert "12.5 % below the 15.7 expected" in told(page)
    stored = "Right value in cm (saved: 37.3)"
    assert page.number_input(key=f"finding_value_{finding}_0").label == stored
    shown = next(each.value for each in page.dataframe if "value, in" in each.value)
    assert shown["value, in"].max() < 20
    page.number_input(key=f"finding_value_{finding}_0").set_value(36.6)
    decide(page, finding, "Correct to this value", "misread")
    assert 36.6 in [value for _, value, _ in state(filled_store)]
    assert decided_findings(filled_store, JUMP)["decision"].tolist() == ["corrected"]


def test_two_sessions_are_exchanged(filled_store: Store, sign_in: SignIn) -> None:
    page = sign_in(filled_store, "dora", "data_checks")
    decide(page, number(filled_store, "swap"), "Exchange the two sessions", "wrong names")
    assert "The two sessions have changed athletes" in told(page)
    assert len(observations(filled_store, JUMP)) == 204
    assert sum(why == "wrong names" for *_, why in state(filled_store)) == 24


def test_only_the_copy_of_a_session_is_excluded(filled_store: Store, sign_in: SignIn) -> None:
    page = sign_in(filled_store, "dora", "data_checks")
    decide(page, number(filled_store, "duplicate"), "Exclude the copy", "imported twice")
    rows = efforts(filled_store, JUMP, "A2")
    excluded = rows[rows["excluded"] == "imported twice"]
    assert len(excluded) == 12
    assert set(excluded["started_at"].dt.day) == {13}


def test_a_fit_without_data_checks_says_so(filled_store: Store, sign_in: SignIn) -> None:
    keep_artificial_fit(filled_store, checked=False)
    text = told(sign_in(filled_store, "carl", "data_checks"))
    assert "did not look through the data behind them" in text


def test_if_nothing_is_found_it_says_what_was_looked_for() -> None:
    said = finding_words.counts_sentence(pd.DataFrame({"kind": []}), 204, 17)
    assert said.startswith("Nothing is left to decide in 204 efforts of 17 sessions.")
    assert "values in another unit" in said and "sessions saved twice" in said


def test_a_row_without_a_volume_is_supplied_there(filled_store: Store, sign_in: SignIn) -> None:
    row = "A5,2026-04-01T10:00,jump_height,1,38,,routine"
    import_efforts(filled_store, read_table(f"{HEADER}\n{row}".encode(), "week.csv"), "carl")
    page = sign_in(filled_store, "carl", "data_checks")
    assert "Rows set aside without a volume" in told(page)
    assert page.data_editor[0].value["file"].tolist() == ["week.csv"]


def test_a_coach_of_one_squad_sees_their_findings_only(
    filled_store: Store, sign_in: SignIn
) -> None:
    save_athletes(filled_store, pd.DataFrame({"athlete": ["A2"], "squad": ["First"]}), "test")
    add_person(filled_store, Person("yara", "Yara", "coach", squads=("First",)), HASH, by="test")
    page = sign_in(filled_store, "yara", "data_checks")
    assert page.header[0].value == "2 findings to decide"
    assert "In 72 efforts of 6 sessions" in told(page)
    assert "Long One" not in told(page) and "All athletes" not in told(page)
    decide(page, number(filled_store, "unit"), "They are right", "she is small")
    assert decided_findings(filled_store, JUMP)["decided_by"].tolist() == ["yara"]


def test_findings_of_the_model_are_saved_with_the_efforts_they_are_about() -> None:
    rows = pd.DataFrame(
        {
            "athlete": "A1",
            "session_id": [7, 7, 8],
            "effort": [1, 2, 1],
            "volume": [0.0, 1.0, 0.0],
            "value": [40.0, 41.0, 16.0],
        }
    )
    one = Finding("unit", "A1", None, (2,), (2,), (40.0,), -60.0, 2.5, 3, 0.001, 1 / 2.54)
    kept = finding_rows(DataCheck((one, replace(one, kind="jump", factor=None)), 4.2), rows)
    assert kept.findings["place"].tolist() == [1, 2]
    assert kept.findings["factor"].isna().tolist() == [False, True]
    assert (
        kept.efforts[["session_id", "effort", "expected", "key"]].values.tolist()
        == [[8, 1, 40.0, True]] * 2
    )
    none = finding_rows(DataCheck((), 4.2), rows)
    assert none.findings.empty and none.efforts.empty


def test_there_are_words_for_every_kind_and_factor() -> None:
    assert set(finding_words.KINDS) == set(KINDS)
    both_ways = {*FACTORS, *(1 / factor for factor in FACTORS)}
    assert set(finding_words.FACTORS) == both_ways
