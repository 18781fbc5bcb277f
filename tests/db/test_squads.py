from __future__ import annotations

import pandas as pd
import pytest

from db.athletes import list_athletes, save_athletes
from db.checks import check
from db.errors import BadInput
from db.people import Person, add_person, get_person, list_people, set_role
from db.squads import squad_members, squad_names
from tests.db.conftest import dump


def save(store, *rows):
    return save_athletes(store, pd.DataFrame(rows, columns=["athlete", "squad"]), "tester")


def members(store):
    return [" ".join(row) for row in squad_members(store).values.tolist()]


def test_a_file_of_athletes_puts_them_in_squads(store):
    saved = save(store, ("A1", "Youth; First"), ("A2", "Youth;Youth ; "), ("A8", ""))
    assert (saved.added, saved.updated) == (1, 2)
    assert members(store) == ["First A1", "Youth A1", "Youth A2"]
    assert squad_names(store) == ["First", "Youth"]
    assert check(store) == []


def test_an_empty_cell_keeps_the_squads_and_a_dash_ends_them(store):
    save(store, ("A1", "Youth"), ("A2", "Youth"))
    before = dump(store)
    assert save(store, ("A1", ""), ("A2", "Youth")).unchanged == 2
    assert dump(store) == before
    assert save(store, ("A1", "-"), ("A2", "First")).updated == 2
    assert members(store) == ["First A2"]


def test_too_long_a_name_of_a_squad_is_said(store):
    with pytest.raises(BadInput, match="row 0, squad"):
        save(store, ("A1", "x" * 101))
    assert members(store) == []


def test_a_coach_is_limited_to_squads(store):
    save(store, ("A1", "Youth; First"))
    carl = Person("carl", "Carl C", "coach", squads=("First", "Youth"))
    add_person(store, carl, "a hash", "dora")
    assert get_person(store, "carl") == carl and list_people(store) == [carl]
    set_role(store, "carl", "coach", "dora", squads=["Youth"])
    assert get_person(store, "carl").squads == ("Youth",)
    set_role(store, "carl", "coach", "dora")
    assert get_person(store, "carl").squads == ()


@pytest.mark.parametrize(
    ("role", "squads", "sentence"),
    [
        ("coach", ["Third"], "There is no squad 'Third'. The squads are First"),
        ("director", ["First"], "Only a coach is limited to squads, and this is the role director"),
    ],
)
def test_limits_that_cannot_be_set(store, role, squads, sentence):
    save(store, ("A1", "First"))
    add_person(store, Person("carl", "Carl C", "coach"), "a hash", "dora")
    before = dump(store)
    with pytest.raises(BadInput, match=sentence):
        set_role(store, "carl", role, "dora", squads=squads)
    with pytest.raises(BadInput, match=sentence):
        add_person(store, Person("eve", "Eve", role, squads=tuple(squads)), "a hash", "dora")
    assert dump(store) == before


def test_a_limit_holds_when_its_squad_has_nobody_left(store):
    save(store, ("A1", "Youth"))
    add_person(store, Person("carl", "C", "coach", squads=("Youth",)), "a hash", "dora")
    save(store, ("A1", "-"))
    assert get_person(store, "carl").squads == ("Youth",)
    assert len(list_athletes(store)) > 0
