from __future__ import annotations

import pytest
from streamlit.testing.v1 import AppTest

from dashboard.sign_in.accounts import person_with_password
from db.file.store import Store
from db.people.accounts import get_person, person_of_web_session
from tests.dashboard.conftest import PASSWORD, SignIn, open_session, told

NEW_PASSWORD = "paddle quartz lantern"


def change(page: AppTest, current: str, new: str, repeated: str) -> AppTest:
    typed = {"Current password": current, "New password": new, "New password again": repeated}
    for each in page.text_input:
        each.set_value(typed[each.label])
    next(button for button in page.button if button.label == "Change the password").click()
    return page.run()


def alive(store: Store, sid: str) -> bool:
    from datetime import UTC, datetime

    return person_of_web_session(store, sid, datetime.now(UTC)) is not None


@pytest.mark.parametrize("name", ["dora", "carl", "long.one"])
def test_everybody_can_change_their_own_password(
    filled_store: Store, sign_in: SignIn, name: str
) -> None:
    other = open_session(filled_store, name)
    page = change(sign_in(filled_store, name, "my_account"), PASSWORD, NEW_PASSWORD, NEW_PASSWORD)
    assert "The password is changed. You are signed out everywhere else." in told(page)
    assert {each.value for each in page.text_input} == {""}
    assert person_with_password(filled_store, name, NEW_PASSWORD) == get_person(filled_store, name)
    assert not alive(filled_store, other)


@pytest.mark.parametrize(
    ("current", "new", "repeated", "said"),
    [
        ("a wrong one", NEW_PASSWORD, NEW_PASSWORD, "The current password is wrong"),
        ("", NEW_PASSWORD, NEW_PASSWORD, "The current password is wrong"),
        (PASSWORD, NEW_PASSWORD, NEW_PASSWORD + "x", "do not match"),
        (PASSWORD, "short", "short", "has 5 characters and needs at least 12"),
        (PASSWORD, "password1234", "password1234", "among the first that are guessed"),
        (PASSWORD, "carlcoach2026", "carlcoach2026", "close to the name"),
    ],
)
def test_a_password_that_cannot_be_changed_says_why(
    filled_store: Store, sign_in: SignIn, current: str, new: str, repeated: str, said: str
) -> None:
    other = open_session(filled_store, "carl")
    page = change(sign_in(filled_store, "carl", "my_account"), current, new, repeated)
    assert said in told(page)
    assert person_with_password(filled_store, "carl", PASSWORD) is not None
    assert alive(filled_store, other)


def test_other_sign_ins_are_listed_and_ended(filled_store: Store, sign_in: SignIn) -> None:
    others = [open_session(filled_store, "carl") for _ in range(2)]
    theirs = open_session(filled_store, "dora")
    page = sign_in(filled_store, "carl", "my_account")
    assert "In this browser, and in 2 others since:" in told(page)
    next(button for button in page.button if button.label == "Sign out there").click()
    page.run()
    assert "That browser is signed out." in told(page)
    assert [alive(filled_store, sid) for sid in others].count(True) == 1
    page.button(key="sign_out_others").click().run()
    assert "In this browser only." in told(page)
    assert not any(alive(filled_store, sid) for sid in others)
    assert alive(filled_store, theirs)
    assert not any(sid in str(page._tree) for sid in others)
