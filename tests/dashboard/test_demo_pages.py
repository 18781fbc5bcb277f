"""Every page on the demo squad, as every role: right numbers, and nothing for the wrong role."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest

import dashboard
from dashboard.fits import lengths
from dashboard.screen.menu import HOME, PLACES, Place, file_of
from db.efforts.rows import observations
from db.file.store import Store
from db.fits.results import latest_fit, responses
from demo_team.club import ACCOUNTS
from tests.dashboard.conftest import SignIn, copied, only_looked_at, told
from tests.dashboard.shown_tables import Tables, sites

FOLDER = Path(dashboard.__file__).parent
OPENED_ELSEWHERE = {
    "data/checks_page": "test_data_checks::test_an_exclusion_needs_a_reason_and_is_undone",
    "club/erase_form": (
        "test_privacy_pages::test_texts_that_may_mention_the_athlete_are_chosen_from"
    ),
    "club/rights_form": "test_pages::test_whom_an_account_would_see_is_a_table_before_it_is_saved",
    "roster/squads_form": "test_people::test_squads_are_renamed_and_given_coaches",
    "tests/outlook_page": "test_outlook::test_plans_stand_side_by_side_and_none_is_simulated_twice",
    "lifting/exercises_page": "test_session_plan::test_an_exercise_is_added_and_a_file_brought",
    "today/plan_details": "test_today::test_the_whole_plan_is_one_tap_away",
    "data/page": "test_pages::test_a_file_of_athletes_is_stored",
    "data/reading_form": (
        "test_any_file_page::test_a_file_with_other_columns_is_read_shown_and_saved"
    ),
    "screen/file_choice": ("test_any_file_page::test_cells_pasted_or_typed_are_read_as_a_file_is"),
    "data/preview": "test_any_file_page::test_a_file_with_other_columns_is_read_shown_and_saved",
    "results/trial_screen": "test_did_it_work::test_a_trial_is_set_up_gone_through_and_told",
}
"""Tables that a page shows only after something was done there, and the test that does it."""


@pytest.fixture(scope="module")
def fitted_demo(demo_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    store = copied(demo_once, tmp_path_factory.mktemp("demo"))
    with only_looked_at(store, [account.name for account in ACCOUNTS]):
        yield store


@pytest.fixture
def demo(fitted_demo: Store, monkeypatch: pytest.MonkeyPatch) -> Store:
    monkeypatch.setenv("WARMCURVE_DB", str(fitted_demo.path))
    return fitted_demo


def test_every_script_has_its_place_in_the_menu() -> None:
    files = {*FOLDER.rglob("page.py"), *FOLDER.rglob("*_page.py")}
    assert files == {FOLDER / place.file for place in PLACES}


def test_each_role_opens_its_pages_and_every_table_is_opened(
    demo: Store, sign_in: SignIn, shown: Tables
) -> None:
    opened: set[str] = set()
    for role in HOME:
        application = sign_in(demo, role)
        for place in (place for place in PLACES if role in place.roles):
            application.switch_page(file_of(place.script)).run()
            assert not application.exception and not application.error, (role, place.script)
            assert application.title[0].value == place.title
            text = told(application)
            assert "changed since" not in text, place.script
            if place.script in ("squad", "before_session"):
                assert re.search(r"[\d,]+ efforts", text)
        opened |= shown.sites
    left = {site.partition(":")[0] for site in sites() - opened}
    assert left == {*OPENED_ELSEWHERE}, "a table that no test opens, or one that this test opens"
    for test in OPENED_ELSEWHERE.values():
        module, _, name = test.partition("::")
        [path] = Path(__file__).parent.rglob(f"{module}.py")
        source = path.read_text(encoding="utf-8")
        assert f"\ndef {name}(" in source, test


@pytest.mark.parametrize("place", PLACES, ids=lambda place: place.script)
def test_every_page_checks_the_role_itself(place: Place) -> None:
    # A page must refuse even when it is not opened from the menu.
    source = (FOLDER / place.file).read_text(encoding="utf-8")
    wanted = ", ".join(f'"{role}"' for role in place.roles)
    assert f"require({wanted})" in source


def test_the_squad_page_shows_the_kept_numbers(demo: Store, sign_in: SignIn) -> None:
    application = sign_in(demo, "director", "squad")
    text = told(application)
    fit = latest_fit(demo, "jump_height")
    assert fit is not None
    assert f"{fit.worth_of_individual_pct:.1f} %" in text
    kept = responses(demo, "jump_height")
    off = kept[kept["active"] & kept["call"].isin(["short", "long"])]
    assert f"{len(off)} of " in text
    assert f"{fit.efforts:,} efforts" in text
    shown = application.dataframe[0].value
    assert isinstance(shown, pd.DataFrame)
    assert len(shown) == kept["active"].sum()


def test_an_athlete_sees_their_own_numbers_and_no_other_name(demo: Store, sign_in: SignIn) -> None:
    application = sign_in(demo, "athlete", "my_warm_up")
    text = told(application) + " ".join(str(metric.value) for metric in application.metric)
    kept = lengths.responses(demo, "jump_height").set_index("athlete")
    own = kept.loc["H12"]
    assert f"{own['length']:.0f} efforts" in text
    own_efforts = (observations(demo, "jump_height")["athlete"] == "H12").sum()
    assert f"{own_efforts} efforts" in text
    for name in kept["name"].drop("H12"):
        assert name not in text


def test_another_code_in_the_address_or_the_state_changes_nothing(
    demo: Store, sign_in: SignIn
) -> None:
    application = sign_in(demo, "athlete", "my_warm_up")
    before = told(application)
    application.query_params["athlete"] = "H07"
    application.session_state["athlete"] = "H07"
    application.run()
    assert not application.exception
    assert told(application) == before


@pytest.mark.parametrize(("person", "role"), [("dora", "director"), ("carl", "coach")])
def test_an_empty_store_says_what_to_do_next(
    empty_store: Store, sign_in: SignIn, person: str, role: str
) -> None:
    application = sign_in(empty_store, person)
    scripts = {place.script for place in PLACES if role in place.roles}
    # `about` says what the program does, so it is the same for every store.
    for script in sorted(scripts - {"about"}):
        text = told(application.switch_page(file_of(script)).run())
        buttons = " ".join(each.label for each in application.button)
        assert not application.exception, script
        asked = r"\b([Ii]mport|[Ee]nter|[Aa]dd|[Cc]hoose|account|Next\b|[Ss]ay what you)"
        assert re.search(asked, f"{buttons} {text}"), text
