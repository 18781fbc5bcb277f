"""An athlete out or in pain gets no test, no length and no line on a sheet until staff lift it."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path

import pypdfium2
import pytest
from streamlit.testing.v1 import AppTest

from dashboard.fits.next_tests import listed_tests
from dashboard.game.files import game_files
from dashboard.rules.standing import blocked_codes
from dashboard.today.training_plan import plan_rows
from db.efforts.typed_sessions import EffortEntry, SessionEntry, add_session
from db.errors import BadInput
from db.file.store import Store
from db.plans.games import save_game
from db.roster.statuses import set_status, standings
from tests.dashboard.app.test_command_line import run
from tests.dashboard.conftest import SignIn, add_routine_sessions, told
from tests.dashboard.full_store import GAME_DAY, game_of


def warned(page: AppTest) -> str:
    return "\n".join(str(each.value) for each in page.warning).replace("\u00a0", " ")


def test_a_status_is_set_on_the_page_and_shown_with_its_history(
    filled_store: Store, sign_in: SignIn
) -> None:
    page = sign_in(filled_store, "carl", "athlete")
    page.selectbox(key="athlete").set_value("A1").run()
    page.selectbox(key="status_which_A1").set_value("modified")
    page.button(key="FormSubmitter:status_A1_0-Save the status").click().run()
    assert "Modified needs a few words" in page.error[0].value
    page.text_input(key="status_reason_A1").set_value("no sprints")
    page.button(key="FormSubmitter:status_A1_0-Save the status").click().run()
    assert "Long One is modified since" in told(page) and "no sprints" in told(page)
    assert [frame.value["said by"].tolist() for frame in page.dataframe if "said by" in frame.value]
    page.selectbox(key="status_which_A1").set_value("out")
    page.button(key="FormSubmitter:status_A1_1-Save the status").click().run()
    assert "No test and no length until staff" in warned(page)
    assert "Advised for one best effort" not in told(page)
    assert blocked_codes(filled_store) == {"A1"}


def test_an_athlete_who_is_out_is_on_no_list_page_or_file(
    filled_store: Store, sign_in: SignIn
) -> None:
    save_game(filled_store, game_of(("A1", "A2")), "carl")
    assert game_files(filled_store, GAME_DAY, "jump_height").athletes() == ["A1", "A2"]
    set_status(filled_store, "A1", "out", date.today(), "zq knee", "carl")
    files = game_files(filled_store, GAME_DAY, "jump_height")
    sheet = pypdfium2.PdfDocument(files.pdf())[0].get_textpage().get_text_range()
    handed_out = [sheet, files.phone().decode(), files.csv().decode()]
    for text in handed_out:
        assert "Short Two" in text and "Long One" not in text and "zq" not in text
    assert "A1" not in set(plan_rows(filled_store, "jump_height", date.today(), 1)["athlete"])
    assert "A1" not in set(listed_tests(filled_store, "jump_height")["athlete"])
    for page in ("before_session", "run_test"):
        shown = sign_in(filled_store, "carl", page)
        assert "Left out until staff lift it: Long One (out since" in warned(shown), page
        assert not [c for c in shown.multiselect if "Long One" in c.options], page
    set_status(filled_store, "A2", "out", date.today(), "", "carl")
    with pytest.raises(BadInput, match="Nobody of this game may warm up"):
        game_files(filled_store, GAME_DAY, "jump_height")


def test_an_athlete_who_is_out_is_sent_to_staff_and_reads_no_reason(
    filled_store: Store, sign_in: SignIn
) -> None:
    set_status(filled_store, "A1", "out", date.today(), "zq knee", "carl")
    page = sign_in(filled_store, "long.one", "my_warm_up")
    assert "Talk to your coach or the medical staff" in told(page) and "zq" not in told(page)
    assert "Your length" not in [each.label for each in page.metric]


def test_a_typed_session_in_pain_blocks_the_athlete_and_is_listed(
    filled_store: Store, sign_in: SignIn
) -> None:
    at = datetime.combine(date.today() - timedelta(days=1), datetime.min.time())
    efforts = (EffortEntry(1, 40.0, 5.0),)
    entry = SessionEntry("A1", "jump_height", at, efforts, facts={"pain": True})
    add_session(filled_store, entry, "carl")
    assert blocked_codes(filled_store) == {"A1"}
    page = sign_in(filled_store, "carl", "data_checks")
    assert "Measured in pain" in told(page)
    assert "Pain was answered yes in 1 session" in told(page) and "Long One" in told(page)


def test_pain_warns_when_it_is_typed_and_when_it_is_imported(
    unfitted_store: Store, sign_in: SignIn, tmp_path: Path
) -> None:
    page = sign_in(unfitted_store, "carl", "enter_efforts")
    page.selectbox(key="entry_kind").set_value("fade").run()
    page.selectbox(key="entry_0_athlete").set_value("A1")
    page.text_area(key="entry_0_values").set_value("40.0 40.4")
    page.selectbox(key="entry_0_pain").set_value("yes")
    next(each for each in page.button if each.label == "Save this session").click().run()
    assert "Long One gets no length and no test until staff set a status" in warned(page)
    file = tmp_path / "hurt.csv"
    header = "athlete,started_at,measure,effort,value,volume_before,pain"
    yesterday = date.today() - timedelta(days=1)
    file.write_text(f"{header}\nA2,{yesterday}T09:00,jump_height,1,40,0,yes\n")
    imported = run("import", file, "--db", unfitted_store.path)
    assert "Pain was answered yes in 1 session with maximal efforts (Short Two)" in imported.stderr
    assert blocked_codes(unfitted_store) == {"A1", "A2"}


def test_an_unusually_long_warm_up_warns_on_import_and_in_the_checks(
    filled_store: Store, sign_in: SignIn, tmp_path: Path
) -> None:
    add_routine_sessions(filled_store)
    file = tmp_path / "long.csv"
    header = "athlete,started_at,measure,effort,value,volume_before,kind"
    file.write_text(
        f"{header}\nA1,2025-05-01T09:00,jump_height,1,40,155,routine\n"
        f"A2,2025-05-01T09:00,jump_height,1,40,222,routine\n"
    )
    imported = run("import", file, "--db", filled_store.path)
    assert "more than twice as long as any other: Long One 155 efforts on" in imported.stderr
    assert "otherwise 16 at most; Short Two 222 efforts on" in " ".join(imported.stderr.split())
    page = sign_in(filled_store, "carl", "data_checks")
    assert "Long One 155 efforts on 1 May 2025, otherwise 16 at most" in told(page)


def test_pain_before_a_test_sets_the_athlete_out(unfitted_store: Store, sign_in: SignIn) -> None:
    page = sign_in(unfitted_store, "carl", "run_test")
    page.multiselect(key="test_athletes").set_value(["A1"]).run()
    page.button_group[0].set_value("Pain")
    page.checkbox(key="test_confirmed").check()
    page.button(key="test_begin").click().run()
    row = standings(unfitted_store).set_index("athlete").loc["A1"]
    assert (row["status"], row["reason"]) == ("out", "pain before a test")
