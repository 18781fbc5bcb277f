"""Every page, by role, on an empty store and on a filled one."""

from __future__ import annotations

import re
import threading
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest
from streamlit.testing.v1.element_tree import Button

import dashboard
from dashboard.core import cautions
from dashboard.fits import background_fits, own_accord
from dashboard.fits.background_fits import FitStage
from dashboard.fits.fitting import CannotFit
from dashboard.fits.learned_files import MeasureFacts, SharedPrior, prior_text
from dashboard.rules.typed_efforts import typed_efforts
from dashboard.screen import notices, selection
from dashboard.screen.menu import PLACES, file_of
from dashboard.screen.web_sessions import session_id
from dashboard.sign_in.accounts import person_with_password
from db.efforts.rows import sessions
from db.efforts.typed_sessions import SessionEntry, add_session
from db.file.store import Store
from db.fits.results import latest_fit
from db.people.accounts import get_person
from db.people.invitations import invited_person
from db.roster.athletes import list_athletes, save_athletes
from db.roster.measures import get_measure, save_measure
from db.tables.limits import Progress
from modeling.curve.shapes import Hyperprior
from modeling.fit.prior import SquadPrior
from tests.dashboard.conftest import (
    ROUTER,
    SignIn,
    add_routine_sessions,
    keep_artificial_fit,
    open_session,
    told,
)
from tests.patience import PATIENCE_SECONDS

FOLDER = Path(dashboard.__file__).parent
TITLES = {
    "week": "This week",
    "squad": "Squad",
    "before_session": "Today",
    "athlete": "Athlete",
    "advice": "Advice for today",
    "run_test": "Run a test",
    "enter_efforts": "Enter efforts",
    "did_it_work": "Results",
    "import_efforts": "Import",
    "map_columns": "Map columns",
    "inbox": "Inbox",
    "imports_list": "Past imports",
    "how_sure": "How sure",
    "reliability": "Reliability",
    "before_testing": "Before testing",
    "data_checks": "Data checks",
    "tests_to_do": "Tests to do",
    "session_plan": "Session plan",
    "exercises": "Exercises",
    "people": "People and squads",
    "measures": "Measures",
    "accounts": "Accounts",
    "my_warm_up": "My warm-up",
    "my_account": "My account",
    "about": "About",
    "athlete_history": "History",
    "trail": "Trail",
    "privacy": "Privacy",
}
STAFF_PAGES = (
    "squad",
    "before_session",
    "advice",
    "athlete",
    "athlete_history",
    "run_test",
    "enter_efforts",
    "did_it_work",
    "import_efforts",
    "map_columns",
    "inbox",
    "imports_list",
    "reliability",
    "data_checks",
    "tests_to_do",
    "session_plan",
    "exercises",
)
MAY_OPEN = {
    "dora": (
        "week",
        "how_sure",
        "before_testing",
        "people",
        "measures",
        "accounts",
        "trail",
        "privacy",
        "my_account",
        "about",
        *STAFF_PAGES,
    ),
    "carl": ("my_account", "about", *STAFF_PAGES),
    "long.one": ("my_warm_up", "my_account", "about"),
}
REFUSED = [(name, page) for name in MAY_OPEN for page in TITLES if page not in MAY_OPEN[name]]


def test_every_page_of_the_folder_is_tested() -> None:
    assert {place.script: place.title for place in PLACES} == TITLES
    for name, role in (("dora", "director"), ("carl", "coach"), ("long.one", "athlete")):
        assert {place.script for place in PLACES if role in place.roles} == set(MAY_OPEN[name])


@pytest.mark.parametrize("name", MAY_OPEN)
def test_the_menu_leads_to_the_pages_of_a_role_and_no_others(
    shown_store: Store, sign_in: SignIn, name: str
) -> None:
    application = sign_in(shown_store, name)
    for page, title in TITLES.items():
        script = file_of(page)
        if page in MAY_OPEN[name]:
            application.switch_page(script).run()
            assert not application.exception, page
            assert application.title[0].value == title
        else:
            with pytest.raises(ValueError, match="Could not find a navigation page"):
                application.switch_page(script)


@pytest.mark.parametrize(("name", "page"), REFUSED)
def test_a_page_asks_for_the_role_itself(shown_store: Store, name: str, page: str) -> None:
    """The menu is no lock: a page that is run without it must refuse too."""
    script = AppTest.from_file(FOLDER / file_of(page), default_timeout=PATIENCE_SECONDS)
    with shown_store.kept_open():
        script.user = {"person": name, "sid": open_session(shown_store, name)}
        script.run()
    assert script.title[0].value == "Not for this account"
    assert "Choose a page from the menu" in told(script)
    assert len(script.dataframe) == len(script.get("plotly_chart")) == 0


@pytest.mark.parametrize("user", [{}, {"person": "dora"}, {"person": "dora", "sid": "0" * 64}])
def test_nobody_sees_a_page_without_a_valid_session(
    shown_store: Store, user: dict[str, str]
) -> None:
    application = AppTest.from_file(ROUTER, default_timeout=PATIENCE_SECONDS)
    application.user = user
    application.run()
    assert application.title[0].value == "You are signed out"
    assert not application.dataframe


NEXT_STEPS = [
    ("dora", "squad", "1. Who are you? Next"),
    ("dora", "before_session", "First steps: 0 of 5 done"),
    ("dora", "athlete", "Import a file of athletes, or a file of efforts"),
    ("carl", "run_test", "Import a file of athletes, or a file of efforts"),
    ("carl", "enter_efforts", "Import a file of athletes, or a file of efforts"),
    ("carl", "import_efforts", "The first file that you import is listed here"),
    ("carl", "inbox", "No folder is watched. Start the dashboard with"),
    ("carl", "map_columns", "Import a file with other columns: its reading is saved here"),
    ("carl", "imports_list", "Every file that you import is listed here with its counts"),
    ("dora", "how_sure", "There are no efforts of 10 m sprint yet. Import a file of efforts"),
    ("dora", "week", "There are no efforts of 10 m sprint yet. Import a file of efforts"),
    ("carl", "data_checks", "Import a file of athletes, or a file of efforts"),
    ("carl", "reliability", "There are no efforts of 10 m sprint yet. Import a file of"),
    ("carl", "tests_to_do", "There are no efforts of 10 m sprint yet. Import a file of"),
    ("carl", "session_plan", "There is no session plan yet. Fill in the session"),
    ("carl", "exercises", "43 exercises, of which 43 came with the program"),
    ("dora", "accounts", "Add an account"),
    ("dora", "people", "left out"),
    ("dora", "measures", "Change or add a measure"),
]


@pytest.mark.parametrize("name", ["dora", "carl"])
def test_an_empty_store_says_what_to_do_next(
    empty_store: Store, sign_in: SignIn, name: str
) -> None:
    application = sign_in(empty_store, name)
    for whose, page, next_step in NEXT_STEPS:
        if whose == name:
            application.switch_page(file_of(page)).run()
            assert not application.exception, page
            assert next_step in told(application)


def test_an_athlete_without_any_fit_is_told_what_to_ask_for(
    unfitted_store: Store, sign_in: SignIn
) -> None:
    text = told(sign_in(unfitted_store, "long.one"))
    assert "There is no curve of your jump height yet. Ask your coach for a fade test" in text


def test_a_fit_in_the_background_is_shown_until_it_is_saved(
    unfitted_store: Store, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    stage = FitStage("jump_height", 0.4, "Fitting jump height: 204 efforts")
    monkeypatch.setitem(background_fits._stages, "jump_height", stage)
    application = sign_in(unfitted_store, "dora")
    assert "The curves of jump height are being worked out." in told(application)
    [bar] = application.get("progress")
    assert (bar.proto.value, bar.proto.text) == (40, stage.what)
    assert not application.button
    assert "Jump height: working out the curves, 40 %." in told(application)
    assert "are being worked out" in told(sign_in(unfitted_store, "long.one"))
    keep_artificial_fit(unfitted_store, checked=False)
    monkeypatch.setitem(
        background_fits._stages, "jump_height", replace(stage, share=0.8, curves_kept=True)
    )
    application.run()
    assert len(application.get("plotly_chart")) == 1
    assert "What follows from them is still being worked out" in told(application)
    assert "stopped early" not in told(application)
    keep_artificial_fit(unfitted_store)
    monkeypatch.delitem(background_fits._stages, "jump_height")
    application.run()
    assert len(application.get("plotly_chart")) == 2
    assert "being worked out" not in told(application)


def test_a_fit_that_failed_in_the_background_says_why_and_can_be_tried_again(
    unfitted_store: Store, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    stage = FitStage("jump_height", problem="Two athletes are not enough.")
    monkeypatch.setitem(background_fits._stages, "jump_height", stage)
    application = sign_in(unfitted_store, "dora")
    assert "Two athletes are not enough." in told(application)
    assert application.button(key="update_curves").label == "Work out the curves"


# Squad


def test_the_squad_page_says_who_needs_another_length_and_what_it_is_worth(
    shown_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(shown_store, "dora")
    text = told(application)
    assert "2 of 5 need another length: 1 shorter, 1 longer" in text
    assert "**Shorter:** Short Two" in text and "**Longer:** Long One" in text
    assert "15 efforts: fine for 1; for 2 it is not known yet. From 17 sessions" in text
    assert "Yes: 2.6 % better" in text and "No comparison yet" in text
    assert (
        "No test is worth doing" in text
        and "The best of 5 tests is expected to bring 0.60 %" in text
    )
    assert "Yes: no single length would do as well as own ones" in text
    assert "the standard (15 efforts) for everybody: 2.6 % (2.0 to 3.3) more" in text
    assert "Best volume went from 20 (16 to 25) to 40 (31 to 52) efforts" in text
    assert "a changed curve and a changed level look alike" in text
    assert "Few sessions: four athletes." in text
    assert len(application.get("plotly_chart")) == 2
    application.button(key="change_A1").click().run()
    assert application.title[0].value == "Athlete"
    assert "Warm up longer: still getting better at 15" in told(application)


def test_the_ranking_shows_the_kept_numbers(shown_store: Store, sign_in: SignIn) -> None:
    [ranking] = (table.value for table in sign_in(shown_store, "dora").dataframe)
    first = ranking.iloc[0]
    assert (first["athlete"], first["call"], first["length"]) == ("Long One", "long", 18.0)
    assert (first["best 90 %"], first["gain 90 %"]) == ("28 to 56", "4.1 to 8.2")
    assert (first["short %"], first["either %"], first["long %"]) == (1, 2, 97)
    assert (first["sessions"], first["efforts"]) == (5, 60)


def test_filters_narrow_picture_and_ranking(shown_store: Store, sign_in: SignIn) -> None:
    application = sign_in(shown_store, "dora")
    application.multiselect(key="squad_positions").set_value(["wing"]).run()
    assert application.dataframe[0].value["athlete"].tolist() == ["Long One", "Short Two"]
    assert "2 of 5 need another length" in told(application)
    application.multiselect(key="squad_calls").set_value(["either"]).run()
    assert "No active athlete fits this choice" in told(application)
    assert not application.exception


def test_an_athlete_is_opened_from_the_list(shown_store: Store, sign_in: SignIn) -> None:
    application = sign_in(shown_store, "dora")
    application.selectbox(key="squad_open").set_value("A2").run()
    assert application.title[0].value == "Athlete"
    assert "Stop sooner: past the best by 15" in told(application)


@pytest.mark.parametrize(
    ("key", "selection"),
    [
        ("squad_ranking", {"rows": [0], "columns": [], "cells": []}),
        ("squad_picture", {"points": [{"customdata": "A1"}], "point_indices": [0]}),
    ],
)
def test_an_athlete_is_opened_by_a_click(
    shown_store: Store, sign_in: SignIn, key: str, selection: dict[str, object]
) -> None:
    application = sign_in(shown_store, "dora")
    application.session_state[key] = {"selection": selection}
    application.run()
    assert application.title[0].value == "Athlete"
    assert "Warm up longer: still getting better at 15" in told(application)


def test_downloads_go_to_the_guarded_routes(shown_store: Store, sign_in: SignIn) -> None:
    application = sign_in(shown_store, "dora")
    assert [link.url for link in application.link_button] == [
        f"/download/export/{what}.csv?measure=jump_height"
        for what in ("responses", "curves", "squad", "efforts", "set-aside")
    ]
    assert not application.get("download_button")


def test_newer_data_are_announced_with_a_way_to_update(
    filled_store: Store, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    add_jumps(filled_store)
    application = sign_in(filled_store, "dora")
    assert "2 new efforts are not in the curves yet." in told(application)
    updated: list[tuple[str, str]] = []

    def fit_measure(store: Store, code: str, person: str, progress: Progress) -> None:
        progress(0.5, "half")
        updated.append((code, person))

    monkeypatch.setattr(notices, "fit_measure", fit_measure)
    application.button(key="update_curves").click().run()
    assert updated == [("jump_height", "dora")]


def test_a_fit_that_fails_says_why(
    filled_store: Store, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    add_jumps(filled_store)

    def fit_measure(*_: object) -> None:
        raise CannotFit("Two athletes are not enough.")

    monkeypatch.setattr(notices, "fit_measure", fit_measure)
    application = sign_in(filled_store, "dora")
    application.button(key="update_curves").click().run()
    assert "Two athletes are not enough." in told(application)
    assert not application.exception


def test_nobody_has_to_press_anything_where_curves_update_by_themselves(
    filled_store: Store, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(own_accord, "_at_work", threading.Event())
    own_accord._at_work.set()
    add_jumps(filled_store)
    application = sign_in(filled_store, "dora")
    assert "2 new efforts are not in the curves yet." in told(application)
    assert "They come by themselves once nothing more is added" in told(application)
    assert "update_curves" not in [button.key for button in application.button]
    stage = FitStage("jump_height", 0.4, "Fitting jump height")
    monkeypatch.setitem(background_fits._stages, "jump_height", stage)
    application.switch_page(file_of("privacy")).run()
    assert "Jump height: working out the curves, 40 %." in told(application)
    monkeypatch.delitem(background_fits._stages, "jump_height")
    keep_artificial_fit(filled_store)
    application.run()
    assert [toast.value for toast in application.toast] == [
        "Jump height: new curves. Nobody's call changed."
    ]
    assert not application.run().toast
    assert "working out" not in told(sign_in(filled_store, "long.one"))


def test_an_automatic_fit_that_failed_can_be_started_by_hand(
    filled_store: Store, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(own_accord, "_at_work", threading.Event())
    own_accord._at_work.set()
    stage = FitStage("jump_height", problem="It did not work.")
    monkeypatch.setitem(background_fits._stages, "jump_height", stage)
    add_jumps(filled_store)
    application = sign_in(filled_store, "dora")
    assert "It did not work." in told(application)
    assert application.button(key="update_curves").label == "Update the curves"


def test_a_changed_standard_is_announced(filled_store: Store, sign_in: SignIn) -> None:
    measure = get_measure(filled_store, "jump_height")
    save_measure(filled_store, replace(measure, standard_volume=12, worthwhile_pct=1.0), "test")
    text = told(sign_in(filled_store, "dora"))
    assert "The standard volume was changed since." in text
    assert "The smallest change worth having was changed since." in text


def test_the_first_curves_are_worked_out_from_the_page(
    unfitted_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(unfitted_store, "dora")
    assert "204 efforts of 4 athletes are saved." in told(application)
    application.button(key="update_curves").click().run()
    assert not application.exception
    fit = latest_fit(unfitted_store, "jump_height")
    assert fit is not None and fit.efforts == 204
    assert re.search(r"of 5|any of 5", told(application))


def add_jumps(store: Store) -> int:
    entry = SessionEntry(
        athlete="A1",
        measure="jump_height",
        started_at=datetime(2026, 4, 1, 9),
        kind="routine",
        efforts=typed_efforts("40 41", "15", False, "efforts"),
    )
    return add_session(store, entry, "carl")


# One athlete


def test_the_athlete_page_shows_every_number_with_its_interval(
    shown_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(shown_store, "carl", "athlete")
    application.selectbox(key="athlete").set_value("A1").run()
    assert application.query_params["athlete"] == "A1"
    text = told(application)
    assert (
        "Length: 18 efforts, not the standard 15. 40 would be better; step by step, at most" in text
    )
    assert "Best after 40 (28 to 56) efforts" in text
    assert "How sure: 97 % that longer than 15 is better" in text
    assert cautions.CAUTION in text
    assert "Best volume went from 20 (16 to 25) to 40 (31 to 52) efforts since 12 Mar 2026" in text
    assert len(application.dataframe[0].value) == 5
    assert len(application.get("plotly_chart")) == 2


def test_an_untested_athlete_has_the_squad_s_curve_and_a_next_step(
    shown_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(shown_store, "carl", "athlete")
    application.selectbox(key="athlete").set_value("A5").run()
    text = told(application)
    assert "Not tested yet: this is what the squad as a whole suggests" in text
    assert "None of jump height yet. Start with a fade test" in text


def test_the_page_says_if_an_athlete_is_newer_than_the_fit(
    filled_store: Store, sign_in: SignIn
) -> None:
    save_athletes(filled_store, pd.DataFrame([{"athlete": "A9", "name": "New Nine"}]), "test")
    application = sign_in(filled_store, "carl", "athlete")
    application.selectbox(key="athlete").set_value("A9").run()
    assert "New Nine was not part of the latest curves" in told(application)


def test_a_second_fit_shows_how_the_answer_has_changed(
    filled_store: Store, sign_in: SignIn
) -> None:
    keep_artificial_fit(filled_store)
    application = sign_in(filled_store, "carl", "athlete")
    assert "How the answer has changed" in told(application)
    assert told(application).count("14 (10 to 20), either") == 2


def test_athletes_with_the_same_name_are_shown_with_their_codes(
    filled_store: Store, sign_in: SignIn
) -> None:
    save_athletes(filled_store, pd.DataFrame([{"athlete": "A9", "name": "Long One"}]), "test")
    options = sign_in(filled_store, "carl", "athlete").selectbox(key="athlete").options
    assert {"Long One (A1)", "Long One (A9)", "Short Two"} <= set(options)


# Enter efforts


def entry_page(store: Store, sign_in: SignIn, kind: str = "fade") -> AppTest:
    application = sign_in(store, "carl", "enter_efforts")
    application.selectbox(key="entry_kind").set_value(kind).run()
    return application


def store_button(application: AppTest) -> Button:
    return next(b for b in application.button if b.label == "Save this session")


def test_a_fade_test_is_typed_in_and_stored(filled_store: Store, sign_in: SignIn) -> None:
    application = entry_page(filled_store, sign_in)
    assert application.selectbox(key="entry_measure").value == "jump_height"
    application.selectbox(key="entry_0_athlete").set_value("A5")
    application.text_area(key="entry_0_values").set_value("38.4 39,1 38.0")
    application.number_input(key="entry_0_freshness").set_value(7)
    application.selectbox(key="entry_0_pain").set_value("no")
    store_button(application).click().run()
    assert "Stored for Untested Five: 3 efforts of jump height" in told(application)
    [session] = sessions(filled_store, athlete="A5").to_dict("records")
    assert (session["kind"], session["efforts"], session["largest_volume"]) == ("fade", 3, 2)
    assert (session["highest_value"], session["freshness"]) == (39.1, 7)
    assert application.text_area(key="entry_1_values").value == ""


def test_a_session_with_an_unlikely_value_must_be_confirmed(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = entry_page(filled_store, sign_in)
    application.selectbox(key="entry_0_athlete").set_value("A1")
    application.text_area(key="entry_0_values").set_value("38.4 39.8 93.6 39.1")
    store_button(application).click().run()
    said = application.error[0].value.replace("\u00a0", " ")
    assert "Effort 3: 93.6 cm is more than twice the 39.8 cm before." in said
    assert "If it is right, press Save this session again" in said
    assert len(sessions(filled_store, athlete="A1")) == 5
    application.text_area(key="entry_0_values").set_value("38.4 39.8 96.3 39.1")
    store_button(application).click().run()
    assert "Effort 3: 96.3" in application.error[0].value, "another value is asked about anew"
    store_button(application).click().run()
    assert len(sessions(filled_store, athlete="A1")) == 6


def test_an_unusually_long_warm_up_must_be_confirmed(filled_store: Store, sign_in: SignIn) -> None:
    add_routine_sessions(filled_store)
    application = entry_page(filled_store, sign_in, kind="routine")
    for athlete, most in (("A1", 16), ("A5", 16)):
        turn = application.session_state["entries_stored"]
        before = len(sessions(filled_store, athlete=athlete))
        application.selectbox(key=f"entry_{turn}_athlete").set_value(athlete)
        application.text_area(key=f"entry_{turn}_values").set_value("39.8")
        application.text_input(key=f"entry_{turn}_volumes").set_value("155")
        store_button(application).click().run()
        said = f"155 efforts is more than twice the most so far, {most} efforts."
        assert said in application.error[0].value
        assert len(sessions(filled_store, athlete=athlete)) == before
        store_button(application).click().run()
        assert len(sessions(filled_store, athlete=athlete)) == before + 1


@pytest.mark.parametrize(
    ("values", "volumes", "said"),
    [
        ("38.4 abc", "15", "Number 2 of the values is 'abc'"),
        ("38.4", "", "how many efforts were done before the first"),
        ("", "15", "No values were typed"),
        ("380", "15", "380"),
    ],
)
def test_what_was_typed_stays_when_it_cannot_be_saved(
    shown_store: Store, sign_in: SignIn, values: str, volumes: str, said: str
) -> None:
    application = entry_page(shown_store, sign_in, "routine")
    application.selectbox(key="entry_0_athlete").set_value("A5")
    application.text_area(key="entry_0_values").set_value(values)
    application.text_input(key="entry_0_volumes").set_value(volumes)
    store_button(application).click().run()
    assert said in told(application)
    assert "What was typed is still there." in told(application)
    assert application.text_area(key="entry_0_values").value == values
    assert sessions(shown_store, athlete="A5").empty
    assert not application.exception


def test_a_session_without_an_athlete_is_refused(shown_store: Store, sign_in: SignIn) -> None:
    application = entry_page(shown_store, sign_in)
    application.text_area(key="entry_0_values").set_value("38.4")
    store_button(application).click().run()
    assert "Choose the athlete first" in told(application)


def test_the_same_session_is_not_stored_twice(filled_store: Store, sign_in: SignIn) -> None:
    for attempt in range(2):
        application = entry_page(filled_store, sign_in)
        application.selectbox(key="entry_0_athlete").set_value("A5")
        application.text_area(key="entry_0_values").set_value(f"38.{attempt}")
        store_button(application).click().run()
    assert application.error
    assert len(sessions(filled_store, athlete="A5")) == 1


# Import

FILE = b"""athlete,started_at,measure,effort,value,volume_before
A1,2026-05-01T10:00,jump_height,1,40.5,15
A1,2026-05-01T10:00,jump_height,2,999,16
B7,2026-05-01T10:00,jump_height,1,38.0,15
"""


def upload(application: AppTest, content: bytes, name: str = "new.csv") -> AppTest:
    application.file_uploader[0].upload(name, content)
    return application.run()


def test_a_file_is_shown_before_it_is_stored(shown_store: Store, sign_in: SignIn) -> None:
    application = upload(sign_in(shown_store, "carl", "import_efforts"), FILE)
    assert "new.csv: 3 rows read. 1 to save, 0 known already, 2 to set aside." in told(application)
    reasons = application.dataframe[0].value
    assert reasons["line"].tolist() == [3, 4]
    assert "999" in reasons["why"][0]
    assert len(sessions(shown_store, athlete="A1")) == 5


def test_a_file_is_stored_and_every_row_accounted_for(filled_store: Store, sign_in: SignIn) -> None:
    application = upload(sign_in(filled_store, "carl", "import_efforts"), FILE)
    application.checkbox(key="import_add").check().run()
    assert "New athletes: B7." in told(application)
    application.button(key="store_efforts").click().run()
    said = "new.csv: 3 rows read. 2 saved, 0 known already, 1 set aside, in 2 sessions."
    assert said in told(application)
    assert application.dataframe[0].value.iloc[0]["file"] == "new.csv"
    assert application.data_editor[0].value["line"].tolist() == [3]


@pytest.mark.parametrize(
    ("content", "said"),
    [(b"", "empty"), (b"athlete,value\n", "has no rows"), (b"a\x00b", "not in UTF-8")],
)
def test_a_file_that_cannot_be_read_says_why(
    shown_store: Store, sign_in: SignIn, content: bytes, said: str
) -> None:
    application = upload(sign_in(shown_store, "carl", "import_efforts"), content)
    assert said in told(application)
    assert not application.exception


def test_a_file_of_athletes_is_stored(empty_store: Store, sign_in: SignIn) -> None:
    application = sign_in(empty_store, "dora", "import_efforts")
    application.segmented_control(key="import_kind").set_value("athletes").run()
    upload(application, b"athlete,name,position\nC1,First C,wing\n", "athletes.csv")
    application.button(key="store_athletes").click().run()
    assert "1 athlete added, 0 updated, 0 unchanged." in told(application)
    assert list_athletes(empty_store)["name"].tolist() == ["First C"]


def test_the_page_asks_what_a_file_does_not_say_before_saving(
    shown_store: Store, sign_in: SignIn
) -> None:
    application = upload(sign_in(shown_store, "carl", "import_efforts"), b"athlete,value\nA1,40\n")
    assert "On which day was it?" in [each.label for each in application.date_input]
    assert "What do the values in value measure?" in [each.label for each in application.radio]
    assert "Answer the questions above" in told(application)
    assert not [each for each in application.button if each.key == "store_efforts"]


# Accounts


def add_account(application: AppTest, name: str, role: str, athlete: str | None) -> None:
    inputs = {each.label: each for each in application.text_input}
    inputs["Sign-in name"].set_value(name)
    inputs["Name as shown"].set_value("New Person")
    selects = [each for each in application.selectbox if each.label == "Role"]
    selects[0].set_value(role).run()
    if athlete:
        next(s for s in application.selectbox if s.label.startswith("Athlete")).set_value(athlete)
    application.button(key="add_account").click().run()


def test_an_account_is_added_and_its_password_shown_once(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(filled_store, "dora", "accounts")
    assert "carl" in application.dataframe[0].value["signs in as"].tolist()
    way = application.segmented_control(key="add_account_0_way")
    way.set_value("With a password that is shown once").run()
    add_account(application, "New.Athlete", "athlete", "A2")
    password = application.code[0].value
    person = person_with_password(filled_store, "new.athlete", password)
    assert person is not None and (person.role, person.athlete) == ("athlete", "A2")
    said = "New Person can sign in as athlete, and sees their own page only."
    assert said in told(application)
    application.run()
    assert not application.code


@pytest.mark.parametrize(
    ("name", "role", "said"),
    [
        ("carl", "coach", "taken"),
        ("a b", "coach", "cannot be used"),
        ("new", "athlete", "needs the code of its athlete"),
    ],
)
def test_an_account_that_cannot_be_added_says_why(
    shown_store: Store, sign_in: SignIn, name: str, role: str, said: str
) -> None:
    application = sign_in(shown_store, "dora", "accounts")
    add_account(application, name, role, None)
    assert said in told(application)
    assert not application.code
    assert not application.exception


def test_a_person_is_deactivated_and_activated_again(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "dora", "accounts")
    application.selectbox(key="accounts_chosen").set_value("carl").run()
    application.button(key="switch_active").click().run()
    assert "Carl Coach cannot sign in any more." in told(application)
    carl = get_person(filled_store, "carl")
    assert carl is not None and not carl.active
    application.button(key="switch_active").click().run()
    assert "Carl Coach can sign in again." in told(application)


def test_a_new_password_replaces_the_old_one(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "dora", "accounts")
    application.selectbox(key="accounts_chosen").set_value("carl").run()
    application.button(key="new_password").click().run()
    assert person_with_password(filled_store, "carl", application.code[0].value) is not None


def test_an_account_is_added_with_a_link_that_is_shown_once(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(filled_store, "dora", "accounts")
    add_account(application, "New.Athlete", "athlete", "A2")
    link = application.code[0].value
    assert re.fullmatch(r"http://[^/]+/join/[\w-]{43}", link)
    assert "It opens once, within 7 days" in told(application)
    secret = session_id(link.rpartition("/")[2])
    person = invited_person(filled_store, secret, datetime.now(UTC))
    assert person is not None and person.person == "new.athlete"
    table = application.dataframe[0].value.set_index("signs in as")["link open until"]
    assert table["new.athlete"] and not table["carl"]
    assert not application.run().code
    application.selectbox(key="accounts_chosen").set_value("new.athlete").run()
    application.button(key="new_link").click().run()
    assert application.code[0].value != link
    assert invited_person(filled_store, secret, datetime.now(UTC)) is None


def test_whom_an_account_would_see_is_a_table_before_it_is_saved(
    filled_store: Store, sign_in: SignIn
) -> None:
    save_athletes(filled_store, pd.DataFrame({"athlete": ["A2"], "squad": ["Youth"]}), "test")
    application = sign_in(filled_store, "dora", "accounts")
    application.selectbox(key="add_account_0_role").set_value("coach").run()
    application.segmented_control(key="add_account_0_whom").set_value("Squads").run()
    before = len(application.dataframe)
    application.multiselect(key="add_account_0_squads").set_value(["Youth"]).run()
    assert len(application.dataframe) == before + 1
    assert application.dataframe[1].value.to_numpy().tolist() == [["Short Two", "wing", "Youth"]]


def test_a_role_is_changed(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "dora", "accounts")
    application.selectbox(key="accounts_chosen").set_value("carl").run()
    [role] = [s for s in application.selectbox if s.label == "Role"][1:]
    role.set_value("director")
    application.run()
    application.button(key="change_role").click().run()
    assert "Carl Coach is director from now on, and sees all athletes (5 now)." in told(application)


def test_a_coach_sees_nobody_until_squads_or_all_are_chosen(
    filled_store: Store, sign_in: SignIn
) -> None:
    save_athletes(filled_store, pd.DataFrame({"athlete": ["A2"], "squad": ["Youth"]}), "test")
    application = sign_in(filled_store, "dora", "accounts")
    application.text_input(key="add_account_0_name").set_value("yara")
    application.selectbox(key="add_account_0_role").set_value("coach").run()
    assert "With this the account **sees nobody yet**." in told(application)
    whom = application.segmented_control(key="add_account_0_whom")
    whom.set_value("All athletes").run()
    assert "With this the account **sees all athletes (5 now)**." in told(application)
    whom.set_value("Squads").run()
    assert "With this the account **sees nobody yet**." in told(application)
    application.button(key="add_account").click().run()
    assert "yara can sign in as coach, and sees nobody yet." in told(application)
    table = application.dataframe[0].value.set_index("signs in as")["sees"]
    assert table["yara"] == "nobody yet" and table["carl"] == "all athletes (5 now)"
    page = sign_in(filled_store, "yara", "before_session")
    assert "You see no athletes yet." in told(page) and not page.selectbox
    application.selectbox(key="accounts_chosen").set_value("yara").run()
    application.segmented_control(key="change_role_yara_whom").set_value("Squads").run()
    application.multiselect(key="change_role_yara_squads").set_value(["Youth"]).run()
    assert "With this the account **sees 1 athlete of Youth**." in told(application)
    application.button(key="change_role").click().run()
    assert "yara is coach from now on, and sees 1 athlete of Youth." in told(application)
    yara = get_person(filled_store, "yara")
    assert yara is not None and (yara.squads, yara.sees_all) == (("Youth",), False)
    assert "You see no athletes yet." not in told(sign_in(filled_store, "yara", "before_session"))


def test_an_address_for_the_clubs_sign_in_is_set_shown_and_removed(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(filled_store, "dora", "accounts")
    application.selectbox(key="accounts_chosen").set_value("carl").run()
    for typed, said in (
        ("Carl@Club.example", "The club's sign-in knows Carl Coach by carl@club.example."),
        ("carl", "is not an e-mail address"),
        (" ", "The club's sign-in knows Carl Coach no more."),
    ):
        [_, field] = [t for t in application.text_input if t.label.startswith("E-mail")]
        field.set_value(typed)
        next(b for b in application.button if b.label == "Change the e-mail address").click()
        application.run()
        assert said in told(application)
        if "by" in said:
            assert "carl@club.example" in set(application.dataframe[0].value["e-mail"])
            assert "knows you by **carl@club.example**" in told(
                sign_in(filled_store, "carl", "my_account")
            )
    person = get_person(filled_store, "carl")
    assert person is not None and person.email is None


def test_the_last_director_cannot_be_deactivated(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "dora", "accounts")
    application.selectbox(key="accounts_chosen").set_value("dora").run()
    application.button(key="switch_active").click().run()
    assert "last active director" in told(application)
    assert not application.exception


# How sure


def test_how_sure_says_first_whether_the_model_describes_the_squad(
    shown_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(shown_store, "dora", "how_sure")
    text = told(application)
    assert application.header[0].value.startswith("Too few sessions yet to tell")
    assert "In 10 of 11 bands of volume the observed mean lies in its 90 % interval" in text
    assert "16 of 17 sessions (94 %) lie in the 90 % interval predicted" in text
    assert "Outside after 16 to 20 efforts" in text
    assert "186 of 204 (91 %) lie in the 90 % interval" in text
    assert len(application.get("plotly_chart")) == 3


def test_how_sure_shows_the_noise_with_its_intervals(shown_store: Store, sign_in: SignIn) -> None:
    text = told(sign_in(shown_store, "dora", "how_sure"))
    assert "An effort varies by 3.0 % (2.8 to 3.3)** about the athlete's curve of that day" in text
    assert "A day varies by 2.0 % (1.4 to 2.9)** about the athlete's own level" in text
    # sqrt(3.0^2 / 5 + 2.0^2) = 2.41; the limits follow from the limits of both.
    assert "a typical error of 2.4 % (1.9 to 3.3)" in text
    assert "takes 3 days (2 to 5) of 5 efforts" in text


def test_how_sure_says_which_data_would_help_whom(shown_store: Store, sign_in: SignIn) -> None:
    application = sign_in(shown_store, "dora", "how_sure")
    assert "2 athletes without a firm call, the least known first." in told(application)
    table = application.table[-1].value.set_index("athlete")
    assert table.loc["Untested Five", "what would help"] == "Start with a fade test."
    assert "still improving at the most that was tried" in table.loc["Unknown Four"].iloc[0]
    assert "between 6 and 13 efforts" in table.loc["Unknown Four", "why"]


def test_how_sure_says_what_the_model_assumes_and_cannot_tell(
    shown_store: Store, sign_in: SignIn
) -> None:
    text = told(sign_in(shown_store, "dora", "how_sure"))
    assert "One rise, one peak, one fall." in text
    assert "Only different volumes tell them apart." in text


def test_a_director_adds_what_other_clubs_learned_and_removes_it(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(filled_store, "dora", "how_sure")
    [label] = [each.label for each in application.expander if "clubs" in each.label]
    assert label == "Other clubs: not used for jump height"
    jumps = get_measure(filled_store, "jump_height")
    for measure in (replace(jumps, unit="in"), jumps):
        curves = Hyperprior(np.zeros(1), np.ones(1), np.eye(1), 20.0)
        prior = SquadPrior(("log gain",), curves, np.full(4, 1e-4), np.full(4, 20.0))
        text = prior_text([SharedPrior(MeasureFacts.of(measure), 7, prior)])
        application.file_uploader[0].upload("clubs.json", text.encode()).run()
        application.button(key="other_clubs_take").click().run()
        assert not application.exception
        if measure != jumps:
            assert "nothing was changed" in application.error[0].value
    assert "what 7 other clubs learned of their squads" in told(application)
    assert "The file from other clubs has changed since." in told(application)
    application.button(key="other_clubs_drop").click().run()
    assert "other clubs learned of their squads" not in told(application)


def test_a_fit_without_a_check_is_worked_out_again_from_the_page(
    filled_store: Store, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep_artificial_fit(filled_store, checked=False)
    application = sign_in(filled_store, "dora", "how_sure")
    assert "Work them out again to see how sure they are." in told(application)
    assert "What the model assumes" in told(application)
    assert not application.get("plotly_chart")
    assert [link.url for link in application.link_button] == [
        "/download/export/responses.csv?measure=jump_height"
    ]
    monkeypatch.setattr(notices, "fit_measure", lambda *_: keep_artificial_fit(filled_store))
    application.button(key="update_curves").click().run()
    assert not application.exception
    assert len(application.get("plotly_chart")) == 3


# My warm-up


def test_an_athlete_sees_their_own_length_and_how_sure_it_is(
    shown_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(shown_store, "long.one")
    text = told(application)
    assert application.metric[0].value == "18 efforts"
    assert "Warm up longer: you are still getting better at 15" in text
    assert "between 28 and 56 efforts (90 % sure), from 5 sessions, 60 efforts" in text
    assert cautions.CAUTION in text
    assert [link.url for link in application.link_button] == [
        "/download/my-data.zip",
        "/download/my-curve.csv?measure=jump_height",
    ]


def test_an_athlete_never_sees_anybody_else(shown_store: Store, sign_in: SignIn) -> None:
    application = sign_in(shown_store, "long.one")
    application.query_params["athlete"] = "A2"
    application.session_state["athlete"] = "A2"
    application.run()
    text = told(application)
    assert "Warm up longer" in text
    others = ["Short Two", "Either Three", "Unknown Four", "Untested Five", "A2"]
    assert not any(other in text for other in others)
    [own_sessions] = application.dataframe
    assert len(own_sessions.value) == 5


def test_an_untested_athlete_sees_the_squad_s_curve_and_what_helps(
    shown_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(shown_store, "untested")
    text = told(application)
    assert "Not tested yet: this is what the squad as a whole suggests" in text
    assert "ask your coach for a fade test" in text
    assert "Your length" not in [metric.label for metric in application.metric]


def test_a_choice_survives_a_page_turn_that_overtakes_it(
    shown_store: Store, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Turning the page may end the run that a choice started, and its field is then forgotten."""
    application = sign_in(shown_store, "carl", "athlete")
    assert application.selectbox(key="athlete").value != "A1"
    with monkeypatch.context() as overtaken:
        overtaken.setattr(selection, "choose_athlete", lambda names: st.stop())
        application.selectbox(key="athlete").set_value("A1").run()
    del application.session_state["athlete"]
    application.query_params.clear()
    application.switch_page(file_of("advice")).run()
    assert application.selectbox(key="athlete").value == "A1"
