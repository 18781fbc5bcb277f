"""The page that runs a test: beginning it, showing what is in the store, ending it, results."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from dashboard.core.numbers import percent
from dashboard.fits.fitting import CannotFit, fit_measure
from dashboard.fits.folded_sessions import fold_session
from dashboard.live_test import words
from dashboard.live_test.rest import rest_of, rest_words
from dashboard.live_test.state import read_live_test
from dashboard.rules.stop_rules import stop_rule
from dashboard.trust.how_sure_words import FAMILIES
from db.efforts.effort_changes import exclude_effort
from db.efforts.live_efforts import add_effort, end_test
from db.efforts.live_tests import open_tests, parts_in
from db.efforts.new_rounds import StopRule
from db.efforts.rows import efforts, sessions
from db.file.store import Store
from db.fits.results import curve_model, learned_json, responses
from db.people.accounts import Person, add_person
from db.roster.athletes import save_athletes
from db.roster.measures import get_measure
from modeling.day.rest_of_test import RestOfTest
from modeling.estimate import Estimate
from tests.dashboard.conftest import HASH, SignIn, add_routine_sessions, fill, new_store, told

FADING = [40.0, 41.2, 41.0, 40.2, 36.0, 36.5, 35.0]


@pytest.fixture(scope="module")
def fitted_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with a real fit, which a session can be folded into."""
    store = new_store(tmp_path_factory.mktemp("fitted") / "fitted.duckdb")
    fill(store, fitted=False)
    fit_measure(store, "jump_height", "test")
    return store.path


@pytest.fixture
def fitted_store(fitted_once: Path, tmp_path: Path) -> Store:
    for path in fitted_once.parent.glob("fitted*"):
        shutil.copy(path, tmp_path / path.name.replace("fitted", "store"))
    return Store(tmp_path / "store.duckdb")


def started(application: AppTest, *names: str) -> AppTest:
    """Begin a fade test of jump height with the form."""
    application.selectbox(key="measure").set_value("jump_height")
    application.multiselect(key="test_athletes").set_value(list(names)).run()
    for name in names:
        field = next(c for c in application.button_group if c.key == f"test_pain_{name}")
        field.set_value("No pain")
        application.number_input(key=f"test_freshness_{name}").set_value(7)
    application.number_input(key="test_ambient_c").set_value(12.5)
    application.text_input(key="test_device").set_value("mat")
    application.checkbox(key="test_confirmed").check()
    return application.button(key="test_begin").click().run()


def type_in(store: Store, session_id: int, values: list[float]) -> None:
    made = len(efforts(store, "jump_height").query(f"session_id == {session_id}"))
    for number, value in enumerate(values, start=made + 1):
        add_effort(store, session_id, number, value, number - 1, "carl")


def metrics(application: AppTest) -> dict[str, str]:
    return {one.label: str(one.value).replace("\u00a0", " ") for one in application.metric}


def test_a_new_test_saves_its_facts_and_shows_what_is_in_the_store(
    unfitted_store: Store, sign_in: SignIn
) -> None:
    page = started(sign_in(unfitted_store, "carl", "run_test"), "A1")
    (test,) = open_tests(unfitted_store).to_dict("records")
    assert (test["athlete"], test["device"], test["stop_in_a_row"]) == ("A1", "mat", 3)
    assert page.query_params["test"] == str(test["round_id"])
    assert "The first effort of Long One comes next" in told(page)
    type_in(unfitted_store, test["session_id"], FADING[:5])
    page.run()
    assert metrics(page) == {
        "Last, of 5": "36 cm",
        "Best so far": "41.2 cm",
        "Below the best": "12.6 %",
        "In a row under 90\u00a0%": "1 of 3",
    }
    newest = sessions(unfitted_store, "A1").iloc[0]
    assert (newest["ambient_c"], newest["freshness"], newest["pain"]) == (12.5, 7, False)
    assert words.BOTH_CAN_STOP in told(page)


def test_the_address_fills_in_the_form_and_begins_nothing(
    filled_store: Store, sign_in: SignIn
) -> None:
    page = sign_in(filled_store, "carl", "run_test")
    page.query_params["measure"] = "throw_speed"
    page.query_params["test_athletes"] = ["A5", "Long One", "A2"]
    page.query_params["test_kind"], page.query_params["test_volume"] = "routine", "8"
    page.run()
    assert page.multiselect(key="test_athletes").value == ["A5", "A2"]
    assert page.selectbox(key="measure").value == "throw_speed"
    assert page.selectbox(key="test_kind").value == "routine"
    assert page.number_input(key="test_first_volume").value == 8.0
    assert open_tests(filled_store).empty and not page.exception
    page.multiselect(key="test_athletes").set_value(["A2"]).run()
    assert page.query_params["test_athletes"] == "A2"


def test_an_unusually_long_warm_up_must_be_confirmed_before_a_test_begins(
    filled_store: Store, sign_in: SignIn
) -> None:
    add_routine_sessions(filled_store)
    page = sign_in(filled_store, "carl", "run_test")
    page.selectbox(key="test_kind").set_value("routine").run()
    page.number_input(key="test_first_volume").set_value(155.0)
    page = started(page, "A1")
    assert "155 efforts is more than twice the most so far, 16 efforts." in page.error[0].value
    assert open_tests(filled_store).empty
    page.button(key="test_begin").click().run()
    assert open_tests(filled_store)["first_volume"].tolist() == [155.0]


def test_the_page_says_stop_until_an_effort_is_taken_back(
    unfitted_store: Store, sign_in: SignIn
) -> None:
    page = started(sign_in(unfitted_store, "carl", "run_test"), "A1")
    session = int(open_tests(unfitted_store)["session_id"].iloc[0])
    type_in(unfitted_store, session, FADING)
    page.run()
    assert page.error[0].value == "Stop, Long One"
    assert "Long One: 36 cm, 36.5 cm and 35 cm, so 3 efforts in a row" in told(page)
    next(b for b in page.button if b.label == "Take back 35\u00a0cm of Long One").click().run()
    assert "35 cm of Long One is taken back" in told(page)
    assert not page.error
    assert metrics(page)["In a row under 90\u00a0%"] == "2 of 3"


def test_the_page_says_what_going_on_would_bring_until_the_rule_says_stop(
    fitted_store: Store, sign_in: SignIn
) -> None:
    page = started(sign_in(fitted_store, "carl", "run_test"), "A2")
    session = int(open_tests(fitted_store)["session_id"].iloc[0])
    heard: tuple[str, ...] = ("Going on is expected to bring ", "Enough for the advice.")
    type_in(fitted_store, session, [40.0, 41.0])
    assert not any(each in told(page.run()) for each in heard)
    type_in(fitted_store, session, [40.5])
    said = rest_of(
        fitted_store, get_measure(fitted_store, "jump_height"), "A2", session, StopRule(0.9, 3), 20
    )
    assert said is not None and rest_words(said).replace("\u00a0", " ") in told(page.run())
    type_in(fitted_store, session, [35.0, 35.0, 35.0])
    shown = told(page.run())
    assert page.error[0].value == "Stop, Short Two" and not any(each in shown for each in heard)


def test_what_going_on_would_bring_in_plain_words() -> None:
    more = Estimate(12.0, 3.0, 40.0)
    assert rest_words(RestOfTest(0.42, more)).replace("\u00a0", " ") == (
        "Going on is expected to bring 0.4 % by better advice; the stop rule takes about 12 more"
        " efforts (90 % sure: 3 to 40)."
    )
    open_end = rest_words(RestOfTest(0.42, Estimate(90.0, 40.0, 120.0))).replace("\u00a0", " ")
    assert open_end.endswith("better advice; the stop rule may take 40 or more efforts.")
    assert rest_words(RestOfTest(0.02, more)).replace("\u00a0", " ") == (
        "**Enough for the advice.** Going on is expected to better it by less than 0.1 %."
        " You decide."
    )


def test_an_effort_is_corrected_spoiled_and_used_again_on_the_page(
    unfitted_store: Store, sign_in: SignIn
) -> None:
    page = started(sign_in(unfitted_store, "carl", "run_test"), "A1")
    session = int(open_tests(unfitted_store)["session_id"].iloc[0])
    type_in(unfitted_store, session, FADING[:5])
    page.run()
    page.button(key=f"spoil_{session}").click().run()
    assert "A change of an effort needs a reason" in page.warning[0].value
    page.selectbox(key=f"reason_{session}").set_value("slipped")
    page.button(key=f"spoil_{session}").click().run()
    assert metrics(page)["In a row under 90\u00a0%"] == "0 of 3"
    page.button(key=f"use_{session}").click().run()
    page.text_input(key=f"right_{session}").set_value("39,5")
    page.button(key=f"correct_{session}").click().run()
    assert metrics(page)["Last, of 5"] == "39.5 cm"
    running = read_live_test(unfitted_store, 1)
    assert running is not None
    row = running.standings[0].efforts.iloc[-1]
    assert (row["value"], row["first_value"]) == (39.5, 36.0)


def test_pain_stops_the_test_and_says_whom_to_see(unfitted_store: Store, sign_in: SignIn) -> None:
    page = sign_in(unfitted_store, "carl", "run_test")
    page.multiselect(key="test_athletes").set_value(["A1"]).run()
    for said, why in (
        (None, 'Answer "Pain?" for each athlete'),
        ("Pain", "Nobody is left to test"),
    ):
        page.button_group[0].set_value(said)
        page.checkbox(key="test_confirmed").check()
        page.button(key="test_begin").click().run()
        assert why in told(page)
    assert "Long One sees the medical staff" in told(page)
    assert open_tests(unfitted_store).empty


def test_no_test_begins_without_an_athlete_and_a_confirmation(
    unfitted_store: Store, sign_in: SignIn
) -> None:
    page = sign_in(unfitted_store, "carl", "run_test")
    page.button(key="test_begin").click().run()
    assert "Choose at least one athlete first" in told(page)
    page.multiselect(key="test_athletes").set_value(["A1"]).run()
    page.button_group[0].set_value("No pain")
    page.button(key="test_begin").click().run()
    assert "Confirm first that each athlete may be tested" in told(page)
    assert open_tests(unfitted_store).empty


def test_an_open_test_is_picked_up_by_somebody_else(unfitted_store: Store, sign_in: SignIn) -> None:
    started(sign_in(unfitted_store, "carl", "run_test"), "A1", "A2")
    page = sign_in(unfitted_store, "dora", "run_test")
    assert "Long One (0 efforts) and Short Two (0 efforts). Begun by carl" in told(page)
    page.button(key="go_on_1").click().run()
    assert "The first effort of Long One comes next" in told(page)
    first = int(open_tests(unfitted_store)["session_id"].iloc[0])
    page.button(key=f"end_{first}").click().run()
    assert open_tests(unfitted_store)["athlete"].tolist() == ["A2"]


def test_an_ended_test_says_what_it_showed(fitted_store: Store, sign_in: SignIn) -> None:
    page = started(sign_in(fitted_store, "carl", "run_test"), "A1")
    session = int(open_tests(fitted_store)["session_id"].iloc[0])
    type_in(fitted_store, session, FADING)
    page.run()
    page.button(key=f"end_{session}").click().run()
    text = told(page)
    fold = fold_session(fitted_store, get_measure(fitted_store, "jump_height"), "A1", session)
    for said in (
        "Efforts to fade: 7.",
        f"Peak effort by the model, that day: {fold.peak['peak']:.4g} cm (90 % interval"
        f" {fold.peak['peak_low']:.4g} to {fold.peak['peak_high']:.4g})",
        "Raw best: 41.2 cm, of 7 usable efforts",
        "Percentage decrement, how far the mean lies from the best: 6.4 % over 7 efforts",
        "The chance that noise alone stops such a test within 7 efforts",
        "Before: Best after",
        "With this test: Best after",
    ):
        assert said in text, said
    assert len(page.get("plotly_chart")) == 1
    assert not page.exception
    assert "the stop rule said so" == parts_in(fitted_store, 1)["ended_because"].iloc[0]


def test_the_fold_counts_the_test_and_saves_nothing(fitted_store: Store, sign_in: SignIn) -> None:
    started(sign_in(fitted_store, "carl", "run_test"), "A1")
    session = int(open_tests(fitted_store)["session_id"].iloc[0])
    measure = get_measure(fitted_store, "jump_height")
    with pytest.raises(CannotFit, match="No effort of this test is usable"):
        fold_session(fitted_store, measure, "A1", session)
    type_in(fitted_store, session, FADING)
    before = responses(fitted_store, "jump_height", "A1")
    revision = fitted_store.revision()
    fold = fold_session(fitted_store, measure, "A1", session)
    assert fold.response["sessions"] == before["sessions"].iloc[0] + 1
    assert fold.response["efforts"] == before["efforts"].iloc[0] + len(FADING)
    assert 0 < fold.noise_pct < 10
    assert fitted_store.revision() == revision
    spoiled = int(efforts(fitted_store, "jump_height", "A1")["effort_id"].iloc[-1])
    exclude_effort(fitted_store, spoiled, "slipped", "carl")
    assert fold_session(fitted_store, measure, "A1", session).response["efforts"] == (
        fold.response["efforts"] - 1
    )


def test_how_sure_says_which_curve_family_fits_the_squad(
    fitted_store: Store, sign_in: SignIn
) -> None:
    curves = curve_model(fitted_store, "jump_height")
    assert curves is not None
    page = told(sign_in(fitted_store, "dora", "how_sure"))
    assert FAMILIES[curves.family] in page
    learned = json.loads(learned_json(fitted_store, "jump_height") or "")["learned"]
    sizes = [100 * learned["noise"][name] for name in ("curve", "session_curve")]
    assert [curves.misfit_pct, curves.session_misfit_pct] == pytest.approx(sizes)
    assert sizes[0] > 0 and f"by about {percent(sizes[0])}".replace("\u00a0", " ") in page


def test_without_curves_the_results_say_what_to_do(unfitted_store: Store, sign_in: SignIn) -> None:
    page = started(sign_in(unfitted_store, "carl", "run_test"), "A1")
    session = int(open_tests(unfitted_store)["session_id"].iloc[0])
    type_in(unfitted_store, session, FADING)
    with unfitted_store.writing("carl", "spread the entries out") as cursor:
        cursor.execute(
            "UPDATE audit SET happened_at = happened_at + to_seconds(47 * revision) "
            "WHERE action = 'add effort'"
        )
    end_test(unfitted_store, session, words.ENDED_BECAUSE[3], "carl")
    page.run()
    assert "About 45 s between efforts; the measure asks for 15 s." in told(page)
    assert "There are no curves yet that this test could be added to" in told(page)
    assert "Raw best: 41.2 cm" in told(page)
    assert page.warning[0].value == words.UNWELL


def test_a_coach_cannot_open_a_test_of_another_squad(
    unfitted_store: Store, sign_in: SignIn, limited_to: Callable[[str], None]
) -> None:
    started(sign_in(unfitted_store, "dora", "run_test"), "A1")
    limited_to("A2")
    page = sign_in(unfitted_store, "yara", "run_test")
    assert "Long One" not in told(page)
    page.query_params["test"] = "1"
    page.run()
    assert "There is no such test, or it is not yours to see" in told(page)


@pytest.fixture
def limited_to(unfitted_store: Store) -> Callable[[str], None]:
    def limit(code: str) -> None:
        save_athletes(unfitted_store, pd.DataFrame({"athlete": [code], "squad": ["One"]}), "test")
        person = Person("yara", "Yara", "coach", squads=("One",))
        add_person(unfitted_store, person, HASH, by="test")

    return limit


def test_a_director_can_set_the_stop_rule_and_a_coach_cannot(
    unfitted_store: Store, sign_in: SignIn
) -> None:
    assert not [
        one for one in sign_in(unfitted_store, "carl", "run_test").expander if "rule" in one.label
    ]
    page = sign_in(unfitted_store, "dora", "run_test")
    next(n for n in page.number_input if n.label.startswith("Low is")).set_value(15.0)
    next(n for n in page.number_input if n.label.startswith("How many")).set_value(2)
    next(b for b in page.button if b.label == "Set the stop rule").click().run()
    jump = get_measure(unfitted_store, "jump_height")
    assert stop_rule(unfitted_store, jump) == StopRule(0.85, 2)
    assert "stop when 2 in a row are below 85" in told(page)
