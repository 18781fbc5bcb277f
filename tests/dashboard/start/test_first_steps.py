"""The first steps of a new store."""

from __future__ import annotations

from streamlit.testing.v1 import AppTest

from dashboard.start.first_steps import steps
from db.file.store import Store
from db.people.first_run import FirstRun, first_run, mark_picture_read
from db.roster.measures import get_measure
from tests.dashboard.conftest import SignIn, told


def test_the_first_steps_follow_the_store(empty_store: Store) -> None:
    assert [step.done for step in steps(first_run(empty_store), "director")] == [False] * 5
    mark_picture_read(empty_store, "dora")
    assert first_run(empty_store).picture_read
    named = FirstRun(0, 3, 0, 0, 0, picture_read=False, club_named=True, measure="jump_height")
    assert [step.done for step in steps(named, "director")] == [True, True, False, True, False]
    some = FirstRun(standards=0, athletes=3, efforts=60, measured=3, fits=1, picture_read=False)
    assert [step.done for step in steps(some, "coach")] == [True] * 4
    assert steps(some, "coach")[-1].state == "60 efforts of 3 athletes"


def press(application: AppTest, label: str) -> str:
    next(each for each in application.button if each.label == label).click().run()
    assert not application.exception
    return told(application)


def test_the_first_steps_lead_to_the_first_data(empty_store: Store, sign_in: SignIn) -> None:
    application = sign_in(empty_store, "dora")
    assert "First steps: 0 of 5 done" in told(application)
    assert "The club needs a name" in press(application, "Save it")
    application.text_input(key="first_club").set_value("Test Club")
    assert "First steps: 1 of 5 done" in press(application, "Save it")
    kind = "A jump, by its distance: cm, farther is better"
    application.radio(key="first_measure").set_value(kind).run()
    application.text_input(key="first_name_Standing long jump").set_value("Long jump, standing")
    assert "First steps: 2 of 5 done" in press(application, "Begin with this")
    assert "Say roughly how much the team does today" in press(application, "Save it")
    application.number_input(key="first_standard").set_value(10.0)
    assert "First steps: 3 of 5 done" in press(application, "Save it")
    assert get_measure(empty_store, "long_jump_standing").standard_volume == 10.0
    [names] = application.text_area
    names.set_value("Ana Lopez\nEva Berg")
    text = press(application, "Add them")
    assert "First steps: 4 of 5 done" in text and "Three athletes with a fade test" in text
    assert "/download/sample-efforts.csv" in [link.url for link in application.link_button]
    text = press(application, "Skip this")
    assert "What is missing to the first curve" in text and "You find it again under Data" in text
    assert "There are no efforts yet" in text and "no athletes" not in text


def test_each_first_step_can_be_skipped(empty_store: Store, sign_in: SignIn) -> None:
    application = sign_in(empty_store, "dora")
    for place in ("Club, Measures", "Club, Measures", "Club, Measures", "Club, People", "Data"):
        assert f"Skipped. You find it again under {place}." in press(application, "Skip this")
    assert "There are no athletes yet." in told(application)
    assert "There are no athletes yet." in told(sign_in(empty_store, "dora"))
