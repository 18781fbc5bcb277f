"""Athletes without names: pages show their codes instead."""

from __future__ import annotations

import io
from datetime import date
from pathlib import Path

import pypdfium2
import pytest
from streamlit.testing.v1 import AppTest

from dashboard.screen.menu import PLACES, file_of
from dashboard.today.training_plan import plan_sheet
from db.file.store import Store
from db.people.accounts import Person, add_person
from db.plans.lengths import PlanEntry, save_choice
from db.roster.athletes import list_athletes
from tests.dashboard import artificial
from tests.dashboard.conftest import HASH, SignIn, fill, new_store, told

CODES = {f"P-0{number}": facts for number, facts in enumerate(artificial.ATHLETES.values(), 1)}
NAMELESS = {code: ("", *facts[1:]) for code, facts in CODES.items()}


@pytest.fixture
def nameless_store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Store:
    monkeypatch.setattr("tests.dashboard.conftest.ATHLETE_PEOPLE", ())
    store = new_store(tmp_path / "store.duckdb")
    fill(store, athletes=NAMELESS)
    add_person(store, Person("p-01", "p-01", "athlete", "P-01"), HASH, by="test")
    return store


def test_every_page_and_the_sheet_work_with_codes_alone(
    nameless_store: Store, sign_in: SignIn
) -> None:
    people = list_athletes(nameless_store)
    assert people["name"].tolist() == people["athlete"].tolist() == sorted(NAMELESS)
    for name, role in (("dora", "director"), ("carl", "coach"), ("p-01", "athlete")):
        application = sign_in(nameless_store, name)
        for page in (place.script for place in PLACES if role in place.roles):
            application.switch_page(file_of(page)).run()
            assert not application.exception, (name, page)
            assert_codes_alone(application, page)
    check_sheet(nameless_store)


def assert_codes_alone(application: AppTest, page: str) -> None:
    text = told(application)
    for table in application.dataframe:
        if "athlete" in table.value and page != "accounts":  # staff have no athlete
            assert table.value["athlete"].notna().all() and (table.value["athlete"] != "").all()
    assert "nan" not in text.lower().split() and "None" not in text.split(), page
    assert "P-01 (P-01)" not in text, page


def check_sheet(nameless_store: Store) -> None:
    day = date(2026, 3, 14)
    plan = PlanEntry(day, "P-01", "jump_height", "best", 1, 40.0, 15.0, 35.0)
    save_choice(nameless_store, plan, "carl")
    document = pypdfium2.PdfDocument(io.BytesIO(plan_sheet(nameless_store, day, "jump_height")))
    assert "P-01" in document[0].get_textpage().get_text_range()
