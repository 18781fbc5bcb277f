from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Literal

import pytest
from argon2 import PasswordHasher

from dashboard import accounts
from dashboard.accounts import (
    generate_password,
    hash_password,
    person_with_password,
    sign_in_name,
)
from dashboard.attempts import LONGEST_WAIT_SECONDS, MOST_KEYS, Attempts, Subject
from db.errors import BadInput
from db.people import Person, add_person, password_hash, set_active
from db.store import Store

PASSWORD = "kettle-lamp-orchard"


QUICK = {"time_cost": 1, "memory_cost": 64, "parallelism": 1}


@pytest.fixture(autouse=True)
def quick_hashes(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(accounts, "HASHER", PasswordHasher(**QUICK))
    accounts._nobodys_hash.cache_clear()
    yield
    accounts._nobodys_hash.cache_clear()


@pytest.fixture
def store(tmp_path: Path) -> Store:
    store = Store(tmp_path / "club.duckdb")
    store.create()
    for name in ("dana", "cleo"):
        add_person(store, Person(name, name.title(), "director"), hash_password(PASSWORD), "test")
    return store


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def test_right_password_gives_the_person(store: Store) -> None:
    person = person_with_password(store, " Dana ", PASSWORD)
    assert person is not None
    assert (person.person, person.role) == ("dana", "director")


@pytest.mark.parametrize(("name", "password"), [("dana", "kettle-lamp-orcharD"), ("eve", PASSWORD)])
def test_wrong_password_and_unknown_name_give_nobody(
    store: Store, name: str, password: str
) -> None:
    assert person_with_password(store, name, password) is None


def test_inactive_person_does_not_get_in(store: Store) -> None:
    set_active(store, "cleo", False, "test")
    assert person_with_password(store, "cleo", PASSWORD) is None


def test_hash_is_argon2id_and_salted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()
    one, other = hash_password(PASSWORD), hash_password(PASSWORD)
    assert one.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert one != other
    assert PASSWORD not in one


def test_accents_typed_in_two_ways_are_the_same_password(store: Store) -> None:
    add_person(store, Person("ann", "Ann", "coach"), hash_password("Ångström-ski"), "test")
    assert person_with_password(store, "ann", "A\u030angstro\u0308m-ski") is not None


def test_unknown_name_costs_the_same_work_as_a_wrong_password(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    checked = []

    class Watched(PasswordHasher):
        def verify(self, *hash_and_password: str | bytes) -> Literal[True]:
            checked.append(str(hash_and_password[0]).split("$")[:4])
            return super().verify(*hash_and_password)

    monkeypatch.setattr(accounts, "HASHER", Watched(**QUICK))
    assert person_with_password(store, "dana", "not the password") is None
    assert person_with_password(store, "nobody", "not the password") is None
    assert checked[0] == checked[1]


def test_old_hash_is_made_anew_at_sign_in(store: Store) -> None:
    weak = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    add_person(store, Person("old", "Old", "coach"), weak.hash(PASSWORD), "test")
    assert person_with_password(store, "old", PASSWORD) is not None
    renewed = password_hash(store, "old")
    assert renewed is not None
    assert not accounts.HASHER.check_needs_rehash(renewed)
    assert person_with_password(store, "old", PASSWORD) is not None


@pytest.mark.parametrize(
    ("password", "sentence"),
    [("tooshort9", "has 9 characters and needs at least 10"), ("x" * 201, "longer than 200")],
)
def test_password_of_wrong_length_is_refused(password: str, sentence: str) -> None:
    with pytest.raises(BadInput, match=sentence):
        hash_password(password)


def test_generated_passwords_differ_and_are_allowed() -> None:
    passwords = {generate_password() for _ in range(50)}
    assert len(passwords) == 50
    assert all(hash_password(password) for password in list(passwords)[:1])
    assert all(len(password) >= accounts.SHORTEST_PASSWORD for password in passwords)


@pytest.mark.parametrize("name", ["a", "two words", "-dash", "x" * 65, "né", ""])
def test_sign_in_names_that_cannot_be_used(name: str) -> None:
    with pytest.raises(BadInput, match="sign-in name cannot be used"):
        sign_in_name(name)


def test_sign_in_name_is_kept_small_and_trimmed() -> None:
    assert sign_in_name("  Dana.Moor@club.example ") == "dana.moor@club.example"


def test_waits_grow_after_the_free_attempts_and_end() -> None:
    clock = Clock()
    attempts, dana = Attempts(clock), Subject("person dana", 3)
    assert [attempts.take(dana) for _ in range(3)] == [0, 0, 0]
    waits = []
    for _ in range(10):
        waits.append(attempts.take(dana))
        clock.now += waits[-1]
        assert attempts.take(dana) == 0
    assert waits[:4] == [2, 4, 8, 16]
    assert waits[-1] == LONGEST_WAIT_SECONDS


def test_waiting_attempts_are_not_counted() -> None:
    clock = Clock()
    attempts, dana = Attempts(clock), Subject("person dana", 1)
    attempts.take(dana)
    assert [attempts.take(dana) for _ in range(5)] == [2] * 5


def test_success_and_a_quarter_of_an_hour_wipe_the_count() -> None:
    clock = Clock()
    attempts, dana = Attempts(clock), Subject("person dana", 1)
    attempts.take(dana)
    attempts.succeeded(dana)
    assert attempts.take(dana) == 0
    assert attempts.take(dana) == 2
    clock.now += 900
    assert attempts.take(dana) == 0


def test_one_address_cannot_try_many_names() -> None:
    attempts, address = Attempts(Clock()), Subject("address 192.0.2.1", 4)
    waits = [attempts.take(Subject(f"person {n}", 5), address) for n in range(6)]
    assert waits == [0, 0, 0, 0, 2, 2]


def test_memory_of_attempts_is_bounded() -> None:
    attempts = Attempts(Clock())
    for number in range(MOST_KEYS + 50):
        attempts.take(Subject(f"person {number}", 1))
    assert len(attempts._counts) == MOST_KEYS
