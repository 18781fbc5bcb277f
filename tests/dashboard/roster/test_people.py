"""People and squads, set by clicking."""

from __future__ import annotations

from dataclasses import replace

import pytest
from streamlit.testing.v1 import AppTest
from streamlit.testing.v1.element_tree import Element

from dashboard.roster.pasted_names import pasted_names
from db.file.store import Store
from db.people.accounts import Person, add_person, get_person
from db.privacy.trail import trail
from db.roster.athlete_changes import Athlete, athletes_in_full, change_athletes
from tests.dashboard.conftest import HASH, SignIn, told

CHANGE, SEVERAL = "Change an athlete", "Move or retire several"
SQUADS, MERGE = "Squads and coaches", "One athlete, two entries"


def opened(sign_in: SignIn, store: Store, task: str = "") -> AppTest:
    application = sign_in(store, "dora", "people")
    if task:
        application.button_group(key="roster_task").set_value(task).run()
    return application


def by_key(elements: object, end: str) -> Element:
    """Return the widget whose key ends with `end`, whatever the number of its form."""
    [found] = [each for each in elements if each.key and each.key.endswith(end)]
    return found


def press(application: AppTest, label: str) -> None:
    [button] = [each for each in application.button if each.label == label]
    button.click().run()
    assert not application.exception


def of(store: Store, code: str) -> Athlete:
    return next(each for each in athletes_in_full(store) if each.athlete == code)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Ana Lopez\n\n  Eva  Berg \n", [("Ana Lopez", None), ("Eva Berg", None)]),
        ("1. Ana Lopez\n12) Eva\n3 Ida\n", [("Ana Lopez", None), ("Eva", None), ("Ida", None)]),
        ("- Ana\n\u2022 Eva\n", [("Ana", None), ("Eva", None)]),
        ("Ana\twing\t7\nEva;;centre", [("Ana", "wing"), ("Eva", "centre")]),
        ("Lopez, Ana", [("Lopez, Ana", None)]),
        ("", []),
    ],
)
def test_names_are_read_as_people_paste_them(
    text: str, found: list[tuple[str, str | None]]
) -> None:
    assert [(each.name, each.position) for each in pasted_names(text)] == found


def test_names_are_pasted_into_an_empty_store(empty_store: Store, sign_in: SignIn) -> None:
    application = opened(sign_in, empty_store)
    assert not application.button_group
    by_key(application.text_area, "_names").set_value("Ana Lopez; wing\nEva Berg")
    by_key(application.multiselect, "_squads").set_value(["Under 19"])
    press(application, "Add them")
    assert "2 athletes added." in told(application)
    assert "2 athletes in 1 squad." in told(application)
    assert of(empty_store, "Ana Lopez") == Athlete(
        "Ana Lopez", "Ana Lopez", "wing", squads=("Under 19",)
    )
    by_key(application.text_area, "_names").set_value("ANA LOPEZ")
    press(application, "Add them")
    assert "ANA LOPEZ is on the list already, with the code Ana Lopez" in told(application)
    assert by_key(application.text_area, "_names").value == "ANA LOPEZ"
    assert trail(empty_store)["action"].tolist()[0] == "add athletes"


def test_an_athlete_is_renamed_retired_and_brought_back(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = opened(sign_in, filled_store, CHANGE)
    application.selectbox(key="roster_athlete").set_value("A1").run()
    by_key(application.text_input, "_name").set_value("Long Wanda")
    by_key(application.multiselect, "_squads").set_value(["First"])
    by_key(application.toggle, "_active").set_value(False)
    press(application, "Save")
    assert "Long Wanda is saved." in told(application)
    assert of(filled_store, "A1") == Athlete("A1", "Long Wanda", "wing", None, False, ("First",))
    assert "4 athletes, in no named squad; 1 more has left." in told(application)
    application.button_group(key="roster_task").set_value(SEVERAL).run()
    by_key(application.button_group, "_what").set_value("Bring back").run()
    assert by_key(application.multiselect, "_athletes").options == ["Long Wanda, has left"]
    by_key(application.multiselect, "_athletes").set_value(["A1"]).run()
    press(application, "Bring back")
    assert of(filled_store, "A1").active
    actions = trail(filled_store)
    assert actions["action"].tolist()[:2] == ["change athletes"] * 2
    assert actions["detail"].tolist()[0] == "A1"


def test_several_athletes_are_moved_and_mistakes_are_explained(
    filled_store: Store, sign_in: SignIn
) -> None:
    change_athletes(filled_store, [replace(of(filled_store, "A5"), squads=("Under 19",))], "test")
    application = opened(sign_in, filled_store, SEVERAL)
    press(application, "Move to")
    assert "Choose the squad first" in told(application)
    by_key(application.selectbox, "_squad").set_value("Under 19").run()
    press(application, "Move to Under 19")
    assert "Choose at least one athlete" in told(application)
    by_key(application.multiselect, "_athletes").set_value(["A1", "A2"]).run()
    press(application, "Move to Under 19")
    assert of(filled_store, "A2").squads == ("Under 19",)
    by_key(application.button_group, "_what").set_value("Take out of").run()
    by_key(application.selectbox, "_squad").set_value("Under 19").run()
    by_key(application.multiselect, "_athletes").set_value(["A1"]).run()
    press(application, "Take out of Under 19")
    assert of(filled_store, "A1").squads == ()


def test_squads_are_renamed_and_given_coaches(filled_store: Store, sign_in: SignIn) -> None:
    application = opened(sign_in, filled_store, SQUADS)
    assert "There are no squads yet" in told(application)
    add_person(filled_store, Person("una", "Una", "coach"), HASH, "test")
    moved = [replace(of(filled_store, code), squads=("U19",)) for code in ("A1", "A2")]
    change_athletes(filled_store, moved, "test")
    application.run()
    by_key(application.text_input, "_name").set_value("Under 19")
    press(application, "Rename")
    by_key(application.multiselect, "_coaches").set_value(["una"])
    press(application, "Save the coaches")
    una = get_person(filled_store, "una")
    assert una is not None and una.squads == ("Under 19",)
    assert application.dataframe[0].value.iloc[0].tolist() == ["Under 19", 2, 0, "Una"]


def test_two_entries_are_merged_and_separated_again(filled_store: Store, sign_in: SignIn) -> None:
    application = opened(sign_in, filled_store, MERGE)
    by_key(application.selectbox, "merge_from_0").set_value("A2")
    by_key(application.selectbox, "merge_into_0").set_value("A1").run()
    assert "1 session of Short Two goes to Long One." in told(application)
    press(application, "Merge them")
    assert "Short Two and Long One are one." in told(application)
    assert not of(filled_store, "A2").active
    press(application, "Undo")
    assert "They are two again." in told(application)
    assert of(filled_store, "A2").active
    assert trail(filled_store)["action"].tolist()[:2] == ["part athletes", "merge athletes"]
