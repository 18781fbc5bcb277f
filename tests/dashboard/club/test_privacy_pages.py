"""The director's pages on the trail and on privacy."""

from __future__ import annotations

import threading
from datetime import date

import pytest

from dashboard.club import daily_retention
from dashboard.club.daily_retention import start_daily_retention
from db.errors import StoreBusy
from db.file.settings import get_setting
from db.file.store import Store
from db.plans.lengths import PlanEntry, plans, save_choice
from db.privacy.mentions import CLEARED
from db.privacy.retention import keep_for, kept_days
from db.roster.athletes import list_athletes
from tests.dashboard.athlete.test_athlete_history import button
from tests.dashboard.conftest import SignIn, told
from tests.patience import PATIENCE_SECONDS


def test_the_trail_is_filtered_by_person_and_kind(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "dora", "trail")
    rows = application.dataframe[0].value
    assert rows["revision"].is_monotonic_decreasing
    assert f"{len(rows)} lines. Times are UTC." in told(application)
    application.multiselect(key="trail_actions").set_value(["import efforts"]).run()
    only = application.dataframe[0].value
    assert only[["person", "action", "detail"]].values.tolist() == [
        ["test", "import efforts", "efforts.csv"]
    ]
    assert "1 line. Times are UTC." in told(application)
    application.multiselect(key="trail_people").set_value(["dora"]).run()
    assert "No line fits this choice." in told(application)


def test_what_is_held_is_counted_and_downloaded_by_the_guarded_route(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(filled_store, "dora", "privacy")
    application.selectbox(key="privacy_athlete").set_value("A1").run()
    text = told(application)
    assert "A1, Long One: account long.one." in text
    assert "5 sessions, 60 efforts, 1 result of a fit and 1 line of the trail" in text
    assert application.link_button[0].url == "/download/athlete.zip?athlete=A1"


def test_erasing_needs_the_code_typed(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "dora", "privacy")
    application.selectbox(key="privacy_athlete").set_value("A1").run()
    application.text_input(key="erase_code_A1").set_value("A2")
    button(application, "Erase").click().run()
    assert "That is not the code A1. Nothing was erased." in told(application)
    assert "A1" in list_athletes(filled_store)["athlete"].tolist()
    application.text_input(key="erase_code_A1").set_value("A1")
    button(application, "Erase").click().run()
    assert not application.exception
    assert "Older backups still hold the athlete" in told(application)
    assert "A1" not in list_athletes(filled_store)["athlete"].tolist()
    text = told(sign_in(filled_store, "dora", "squad"))
    assert "An athlete whose efforts are part of these numbers was erased on" in text


def test_texts_that_may_mention_the_athlete_are_kept_or_cleared_before_erasing(
    filled_store: Store, sign_in: SignIn
) -> None:
    plan = PlanEntry(date(2026, 3, 3), "A2", "jump_height", "best", 1, 30, 15, 12, "one more")
    save_choice(filled_store, plan, "dora")
    application = sign_in(filled_store, "dora", "privacy")
    application.selectbox(key="privacy_athlete").set_value("A1").run()
    assert "1 text about others may mention A1." in told(application)
    (shown,) = [one.value for one in application.dataframe if "where" in one.value]
    assert shown.values.tolist() == [["one more", "reason for a length of A2", "one"]]
    application.text_input(key="erase_code_A1").set_value("A1")
    button(application, "Erase").click().run()
    assert "First choose whether to keep or clear the texts above." in told(application)
    assert "A1" in list_athletes(filled_store)["athlete"].tolist()
    application.button_group(key="texts_A1").set_value("Clear all").run()
    application.text_input(key="erase_code_A1").set_value("A1")
    button(application, "Erase").click().run()
    assert not application.exception
    assert "1 text about others cleared." in told(application)
    kept = plans(filled_store, date(2026, 3, 3), "jump_height")
    assert kept["reason"].tolist() == [CLEARED]


def test_texts_that_may_mention_the_athlete_are_chosen_from(
    filled_store: Store, sign_in: SignIn
) -> None:
    for number, why in ((3, "one more"), (4, "one less")):
        day = date(2026, 3, number)
        plan = PlanEntry(day, "A2", "jump_height", "best", 1, 30, 15, 12, why)
        save_choice(filled_store, plan, "dora")
    application = sign_in(filled_store, "dora", "privacy")
    application.selectbox(key="privacy_athlete").set_value("A1").run()
    application.button_group(key="texts_A1").set_value("Choose").run()
    (table,) = [one.value for one in application.dataframe if "where" in one.value]
    row = table.iloc[:, 0].tolist().index("one less")
    marked = {"selection": {"rows": [row], "columns": [], "cells": []}}
    application.session_state["mentions_A1_2"] = marked
    application.run()
    application.text_input(key="erase_code_A1").set_value("A1")
    application.session_state["mentions_A1_2"] = marked
    button(application, "Erase").click().run()
    assert "1 text about others cleared." in told(application)
    left = [
        plans(filled_store, date(2026, 3, number), "jump_height")["reason"].tolist()
        for number in (3, 4)
    ]
    assert left == [["one more"], [CLEARED]]


def test_retention_times_show_what_they_remove_before_they_are_set(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(filled_store, "dora", "privacy")
    assert "Sessions with their efforts, notes and corrections: kept for ever." in told(application)
    application.number_input(key="keep_sessions").set_value(365).run()
    assert "corrections: kept for 365 days. Older than that now: 0 rows." in told(application)
    button(application, "Save these times").click().run()
    assert kept_days(filled_store)["sessions"] == 365
    assert get_setting(filled_store, "keep_audit_days") is None
    button(application, "Remove older rows now").click().run()
    assert "There was nothing older." in told(application)


def test_an_empty_store_still_has_its_retention_times(empty_store: Store, sign_in: SignIn) -> None:
    text = told(sign_in(empty_store, "dora", "privacy"))
    assert "There are no athletes yet." in text and "How long things are kept" in text


def test_the_server_keeps_removing_old_rows_and_says_so(
    filled_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep_for(filled_store, "web-sessions", 1, "dora")
    runs: list[str] = []

    def apply_retention(_store: Store, person: str) -> dict[str, int]:
        runs.append(person)
        if len(runs) == 2:
            raise StoreBusy("Another process has it.")
        return {"web-sessions": 3, "sessions": 0}

    monkeypatch.setattr(daily_retention, "apply_retention", apply_retention)
    said: list[str] = []
    enough = threading.Event()

    def say(sentence: str) -> None:
        said.append(sentence)
        if len(said) == 2:
            enough.set()

    stop = start_daily_retention(filled_store, say, every_seconds=0.01)
    assert enough.wait(PATIENCE_SECONDS)
    stop.set()
    assert said[0] == "Removed, as it was kept for its time: 3 web-sessions."
    assert said[1] == "What was kept long enough could not be removed: Another process has it."
    [worker] = [each for each in threading.enumerate() if each.name == "retention"]
    worker.join()
    assert set(runs) == {daily_retention.BY}
