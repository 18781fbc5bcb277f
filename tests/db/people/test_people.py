from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from db.errors import BadInput
from db.people.accounts import (
    Person,
    add_person,
    any_people,
    close_all_web_sessions,
    close_web_session,
    get_person,
    list_people,
    open_web_session,
    password_hash,
    person_of_web_session,
    person_with_email,
    set_active,
    set_email,
    set_password_hash,
    set_role,
)
from db.privacy.trail import trail
from tests.db.conftest import dump

DIRECTOR = Person("dora", "Dora D", "director")
COACH = Person("carl", "Carl C", "coach")
ATHLETE = Person("anna", "Anna A", "athlete", "A1")
NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
LATER = NOW + timedelta(days=7)
TOKENS = ["a" * 64, "b" * 64, "c" * 64]


@pytest.fixture
def people(store):
    for person in (DIRECTOR, COACH, ATHLETE):
        add_person(store, person, f"hash of {person.person}", "dora")
    return store


def test_people_come_back_as_they_were_added(store):
    assert not any_people(store)
    add_person(store, DIRECTOR, "a hash", "command line")
    add_person(store, ATHLETE, "another hash", "dora")
    assert any_people(store)
    assert list_people(store) == [ATHLETE, DIRECTOR]
    assert get_person(store, "anna") == ATHLETE
    assert get_person(store, "nobody") is None
    assert password_hash(store, "anna") == "another hash"
    assert password_hash(store, "nobody") is None


@pytest.mark.parametrize(
    ("person", "sentence"),
    [
        (replace(COACH, person="dora"), "'dora' is taken"),
        (replace(COACH, person=""), "is empty"),
        (replace(COACH, person="Carl"), "capitals or spaces"),
        (replace(COACH, display_name=" "), "name to show"),
        (replace(COACH, role="boss"), "no role 'boss'. The roles are director, coach, athlete"),
        (replace(ATHLETE, athlete=None), "needs the code of its athlete"),
        (replace(ATHLETE, athlete="A9"), "no athlete with the code 'A9'"),
    ],
)
def test_people_who_cannot_be_added(store, person, sentence):
    add_person(store, DIRECTOR, "a hash", "command line")
    before = dump(store)
    with pytest.raises(BadInput, match=sentence):
        add_person(store, person, "a hash", "dora")
    assert dump(store) == before


def test_a_web_session_holds_until_it_expires(people):
    open_web_session(people, "carl", TOKENS[0], LATER)
    assert person_of_web_session(people, TOKENS[0], NOW) == COACH
    assert person_of_web_session(people, TOKENS[1], NOW) is None
    assert person_of_web_session(people, TOKENS[0], LATER - timedelta(seconds=1)) == COACH
    assert person_of_web_session(people, TOKENS[0], LATER) is None


def test_expiry_is_compared_across_time_zones(people):
    from zoneinfo import ZoneInfo

    open_web_session(people, "carl", TOKENS[0], LATER.astimezone(ZoneInfo("Asia/Tokyo")))
    assert person_of_web_session(people, TOKENS[0], LATER - timedelta(seconds=1)) == COACH
    assert person_of_web_session(people, TOKENS[0], LATER + timedelta(seconds=1)) is None


def test_closing_one_web_session_leaves_the_others(people):
    for token in TOKENS[:2]:
        open_web_session(people, "carl", token, LATER)
    close_web_session(people, TOKENS[0])
    close_web_session(people, TOKENS[0])
    close_web_session(people, "unknown")
    assert person_of_web_session(people, TOKENS[0], NOW) is None
    assert person_of_web_session(people, TOKENS[1], NOW) == COACH


@pytest.mark.parametrize(
    "change",
    [
        lambda store: set_password_hash(store, "carl", "new hash", "dora"),
        lambda store: set_role(store, "carl", "director", "dora"),
        lambda store: close_all_web_sessions(store, "carl"),
        lambda store: set_active(store, "carl", False, "dora"),
    ],
    ids=["password", "role", "everywhere", "deactivate"],
)
def test_changes_that_close_all_web_sessions_of_the_person(people, change):
    for token, name in zip(TOKENS, ("carl", "carl", "anna"), strict=True):
        open_web_session(people, name, token, LATER)
    change(people)
    assert [person_of_web_session(people, token, NOW) for token in TOKENS] == [None, None, ATHLETE]


def test_an_inactive_person_is_nobody_until_active_again(people):
    set_active(people, "carl", False, "dora")
    open_web_session(people, "carl", TOKENS[0], LATER)
    assert person_of_web_session(people, TOKENS[0], NOW) is None
    assert get_person(people, "carl") == replace(COACH, active=False)
    set_active(people, "carl", True, "dora")
    assert get_person(people, "carl") == COACH


def test_password_and_role_are_changed(people):
    set_password_hash(people, "carl", "new hash", "dora")
    assert password_hash(people, "carl") == "new hash"
    set_role(people, "carl", "athlete", "dora", athlete="A2")
    assert get_person(people, "carl") == Person("carl", "Carl C", "athlete", "A2")
    set_role(people, "carl", "coach", "dora")
    assert get_person(people, "carl") == COACH


@pytest.mark.parametrize(
    "change",
    [
        lambda store: set_active(store, "dora", False, "dora"),
        lambda store: set_role(store, "dora", "coach", "dora"),
    ],
)
def test_the_last_active_director_stays(people, change):
    before = dump(people)
    with pytest.raises(BadInput, match="'dora' is the last active director"):
        change(people)
    assert dump(people) == before
    add_person(people, Person("dirk", "Dirk D", "director"), "a hash", "dora")
    change(people)
    assert [p.person for p in list_people(people) if p.role == "director" and p.active] == ["dirk"]


@pytest.mark.parametrize(
    "change",
    [
        lambda store: set_password_hash(store, "nobody", "hash", "dora"),
        lambda store: set_active(store, "nobody", False, "dora"),
        lambda store: set_role(store, "nobody", "coach", "dora"),
    ],
)
def test_changing_an_unknown_account_is_refused(people, change):
    with pytest.raises(BadInput, match="no account 'nobody'"):
        change(people)


def test_an_address_is_saved_in_lower_case_and_belongs_to_one_account(people):
    assert get_person(people, "carl").email is None
    set_email(people, "carl", " Carl.C@Club.example ", "dora")
    carl = get_person(people, "carl")
    assert carl == replace(COACH, email="carl.c@club.example")
    assert person_with_email(people, "CARL.c@club.example") == carl
    with pytest.raises(BadInput, match="that of the account 'carl' already"):
        set_email(people, "anna", "carl.C@club.example", "dora")
    set_email(people, "carl", "other@club.example", "dora")
    set_email(people, "anna", "carl.c@club.example", "dora")
    set_email(people, "carl", None, "dora")
    assert [each.email for each in list_people(people)] == ["carl.c@club.example", None, None]
    assert person_with_email(people, "other@club.example") is None
    new = Person("eve", "Eve", "coach", email="Eve@club.example")
    add_person(people, new, "a hash", "dora")
    assert get_person(people, "eve").email == "eve@club.example"


def test_the_address_of_an_inactive_account_finds_nobody(people):
    set_email(people, "carl", "carl@club.example", "dora")
    set_active(people, "carl", False, "dora")
    assert person_with_email(people, "carl@club.example") is None


@pytest.mark.parametrize(
    "email",
    ["carl", "a@b", "a b@c.de", "a@c.de,b@c.de", "ß@c.de", "\u212am@c.de", "x" * 250 + "@c.de"],
)
def test_an_invalid_address_changes_nothing(people, email):
    before = dump(people)
    with pytest.raises(BadInput, match="is not an e-mail address that can be used"):
        set_email(people, "carl", email, "dora")
    with pytest.raises(BadInput, match="no account 'eve'"):
        set_email(people, "eve", "eve@club.example", "dora")
    assert dump(people) == before
    assert person_with_email(people, email) is None


def test_a_new_address_ends_the_sessions_and_is_in_the_trail(people):
    open_web_session(people, "carl", TOKENS[0], LATER)
    set_email(people, "carl", "carl@club.example", "dora")
    assert person_of_web_session(people, TOKENS[0], NOW) is None
    set_email(people, "carl", None, "dora")
    rows = trail(people, ["dora"])[["action", "detail"]].head(2)
    assert rows.values.tolist() == [["remove e-mail", "carl"], ["change e-mail", "carl"]]
