from __future__ import annotations

from dataclasses import replace

import duckdb
import pandas as pd
import pytest

from db.errors import BadInput
from db.file import migrations
from db.file.checks import check
from db.file.store import Store
from db.people.accounts import Person, add_person, get_person, list_people, set_role
from db.people.sight import in_sight, sight_of
from db.privacy.trail import trail
from db.roster.athletes import list_athletes, save_athletes
from db.roster.squads import squad_members, squad_names
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


def test_a_squad_name_that_is_too_long_is_reported(store):
    with pytest.raises(BadInput, match="row 0, squad"):
        save(store, ("A1", "x" * 101))
    assert members(store) == []


def test_a_coach_sees_squads_or_all_or_nobody(store):
    save(store, ("A1", "Youth; First"))
    carl = Person("carl", "Carl C", "coach", squads=("First", "Youth"))
    add_person(store, carl, "a hash", "dora")
    assert get_person(store, "carl") == carl and list_people(store) == [carl]
    set_role(store, "carl", "coach", "dora", squads=["Youth"])
    assert get_person(store, "carl").squads == ("Youth",)
    set_role(store, "carl", "coach", "dora", sees_all=True)
    assert get_person(store, "carl") == replace(carl, squads=(), sees_all=True)
    set_role(store, "carl", "coach", "dora")
    assert get_person(store, "carl") == replace(carl, squads=())
    assert trail(store)["detail"].head(4).tolist() == [
        "carl to coach of nobody yet",
        "carl to coach of all athletes",
        "carl to coach of Youth",
        "carl as coach of First; Youth",
    ]


def test_a_coach_without_squads_sees_nobody_unless_given_all_athletes(store):
    save(store, ("A1", "First"))
    carl = Person("carl", "Carl C", "coach")
    assert list_athletes(in_sight(store, sight_of(carl))).empty
    everybody = in_sight(store, sight_of(replace(carl, sees_all=True)))
    assert list_athletes(everybody)["athlete"].tolist() == list_athletes(store)["athlete"].tolist()


def test_a_file_kept_open_shows_each_coach_their_own_athletes_and_new_ones(closed_store):
    save(closed_store, ("A1", "First"), ("A2", "Second"))
    sights = {
        squad: sight_of(Person("carl", "Carl C", "coach", squads=(squad,)))
        for squad in ("First", "Second")
    }
    with closed_store.kept_open():
        for new in ("A3", "A4"):
            for squad, sight in sights.items():
                seen = list_athletes(in_sight(closed_store, sight))["athlete"]
                assert seen.tolist() == list_athletes_of(closed_store, squad)
            save(closed_store, (new, "First"))
            with pytest.raises(BadInput), in_sight(closed_store, sights["First"]).reading():
                raise BadInput("a reader that breaks off")
    with closed_store.alone():
        pass  # nothing above has the file open any more


def list_athletes_of(store, squad):
    members = squad_members(store)
    return members.loc[members["squad"] == squad, "athlete"].tolist()


@pytest.mark.parametrize(
    ("role", "squads", "sees_all", "sentence"),
    [
        ("coach", ["Third"], False, "There is no squad 'Third'. The squads are First"),
        ("coach", ["First"], True, "either some squads or all athletes"),
        ("director", ["First"], False, "Only a coach is given squads or all athletes, and this is"),
        ("director", [], True, "Only a coach is given squads or all athletes, and this is"),
    ],
)
def test_a_sight_that_cannot_be_given(store, role, squads, sees_all, sentence):
    save(store, ("A1", "First"))
    add_person(store, Person("carl", "Carl C", "coach"), "a hash", "dora")
    before = dump(store)
    with pytest.raises(BadInput, match=sentence):
        set_role(store, "carl", role, "dora", squads=squads, sees_all=sees_all)
    with pytest.raises(BadInput, match=sentence):
        eve = Person("eve", "Eve", role, squads=tuple(squads), sees_all=sees_all)
        add_person(store, eve, "a hash", "dora")
    assert dump(store) == before


def test_a_coach_stays_limited_to_a_squad_that_is_empty(store):
    save(store, ("A1", "Youth"))
    add_person(store, Person("carl", "C", "coach", squads=("Youth",)), "a hash", "dora")
    save(store, ("A1", "-"))
    assert get_person(store, "carl").squads == ("Youth",)
    assert len(list_athletes(store)) > 0


def test_coaches_who_saw_all_athletes_still_do_after_the_upgrade(tmp_path):
    path = tmp_path / "earlier.duckdb"
    with duckdb.connect(path) as root:
        migrations.build(root, 19)
        root.execute("INSERT INTO audit (revision, person, action) VALUES (1, 'x', 'begin')")
        root.execute("INSERT INTO person_squad VALUES ('yara', 'Youth')")
        for name, role in (
            ("bert", "coach"),
            ("carl", "coach"),
            ("yara", "coach"),
            ("d", "director"),
        ):
            values = [name, name, role, "a hash"]
            root.execute(
                "INSERT INTO person (person, display_name, role, password_hash) "
                "VALUES (?, ?, ?, ?)",
                values,
            )
    store = Store(path)
    assert {each.person: (each.sees_all, each.squads) for each in list_people(store)} == {
        "bert": (True, ()),
        "carl": (True, ()),
        "d": (False, ()),
        "yara": (False, ("Youth",)),
    }
    assert trail(store).query("revision > 1")[["person", "detail"]].values.tolist() == [
        ["program update", "carl to coach of all athletes, as until now"],
        ["program update", "bert to coach of all athletes, as until now"],
    ]
    assert check(store) == []
