"""Athletes and squads as they are set on the screen."""

from __future__ import annotations

from dataclasses import replace

import pytest

from db.errors import BadInput
from db.file.store import Store
from db.people.accounts import Person, add_person, get_person
from db.people.squad_changes import rename_squad, set_squad_coaches, squads
from db.roster.athlete_changes import Athlete, add_athletes, athletes_in_full, change_athletes


def of(store: Store, code: str) -> Athlete:
    return next(each for each in athletes_in_full(store) if each.athlete == code)


def add(store: Store, *names: str) -> list[str]:
    return add_athletes(store, [Athlete("", name) for name in names], "test")


def test_codes_are_made_from_names_and_tell_athletes_apart(store: Store) -> None:
    assert add(store, "Søren  Hjortkær", "Peña, José-María", "Ана", "'?!") == [
        "Søren Hjortkær",
        "José-María Peña",
        "Ана",
        "athlete",
    ]
    assert of(store, "José-María Peña").name == "José-María Peña"
    assert add(store, "Søren Hjortkær!", "?") == ["Søren Hjortkær 2", "athlete 2"]


@pytest.mark.parametrize(
    ("names", "sentence"),
    [
        ((), "There are no names"),
        (("Ana", " "), "needs a name"),
        (("Ana", "ANA"), "is there twice"),
        (("Åse", "Nina", "ase"), "is there twice"),
        (("x" * 101,), "100 are allowed"),
    ],
)
def test_one_bad_name_means_nobody_is_added(
    store: Store, names: tuple[str, ...], sentence: str
) -> None:
    before = athletes_in_full(store)
    with pytest.raises(BadInput, match=sentence):
        add(store, *names)
    assert athletes_in_full(store) == before


def test_somebody_who_has_left_must_be_brought_back(store: Store) -> None:
    [code] = add(store, "Ana Lopez")
    change_athletes(store, [replace(of(store, code), active=False)], "test")
    with pytest.raises(BadInput, match="Ana Lopez, who has left: bring them back instead"):
        add(store, "ana lópez")


def test_details_are_set_exactly_and_only_changes_are_written(store: Store) -> None:
    [code] = add(store, "Ana Lopez")
    ana = Athlete(code, "Ana María López", "wing", squads=("Under 19", "First"))
    assert change_athletes(store, [ana], "test") == 1
    assert of(store, code) == replace(ana, squads=("First", "Under 19"))
    revision = store.revision()
    assert change_athletes(store, [ana], "test") == 0 and store.revision() == revision
    change_athletes(store, [Athlete(code, "Ana")], "test")
    assert of(store, code) == Athlete(code, "Ana")
    with pytest.raises(BadInput, match="There is no athlete with the code 'nobody'"):
        change_athletes(store, [Athlete(code, "B"), Athlete("nobody", "C")], "test")
    assert of(store, code).name == "Ana"


@pytest.fixture
def club(store: Store) -> Store:
    codes = add(store, "Ana Lopez", "Eva Berg")
    change_athletes(
        store,
        [
            replace(of(store, code), squads=(squad,))
            for code, squad in zip(codes, "AB", strict=True)
        ],
        "test",
    )
    coaches = [
        Person("una", "Una", "coach", squads=("A",)),
        Person("vera", "Vera", "coach"),
        Person("all", "All", "coach", sees_all=True),
    ]
    for coach in coaches:
        add_person(store, coach, "hash", "test")
    return store


def test_squads_are_renamed_for_athletes_and_coaches(club: Store) -> None:
    rename_squad(club, "A", " First  team ", "test")
    first, other = squads(club)[1], squads(club)[0]
    assert (first.name, first.athletes, [each.person for each in first.coaches]) == (
        "First team",
        1,
        ["una"],
    )
    assert other.name == "B" and not other.coaches
    for name, new_name, sentence in (
        ("B", "First team", "There is a squad 'First team' already"),
        ("C", "D", "There is no squad 'C'"),
        ("B", " ", "needs a name"),
    ):
        with pytest.raises(BadInput, match=sentence):
            rename_squad(club, name, new_name, "test")


def test_coaches_are_given_a_squad_and_lose_it(club: Store) -> None:
    set_squad_coaches(club, "B", ["una", "vera"], "test")
    sight = {name: getattr(get_person(club, name), "squads", None) for name in ("una", "vera")}
    assert sight == {"una": ("A", "B"), "vera": ("B",)}
    set_squad_coaches(club, "B", ["una"], "test")
    assert getattr(get_person(club, "vera"), "squads", None) == ()
    for name in ("all", "nobody"):
        with pytest.raises(BadInput, match=f"'{name}' is no coach of squads"):
            set_squad_coaches(club, "B", [name], "test")
