from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Literal

import pytest
from argon2 import PasswordHasher

from dashboard.sign_in import accounts
from dashboard.sign_in.accounts import (
    change_own_password,
    generate_password,
    hash_password,
    person_with_password,
    sign_in_name,
)
from dashboard.sign_in.attempts import (
    FREE_ATTEMPTS,
    LONGEST_WAIT_SECONDS,
    MOST_KEYS,
    Attempts,
    Subject,
    subjects_of,
)
from db.errors import BadInput
from db.file.store import Store
from db.people.accounts import (
    Person,
    add_person,
    get_person,
    open_web_session,
    password_hash,
    person_of_web_session,
    set_active,
)

PASSWORD = "kettle-lamp-orchard"
NEW_PASSWORD = "paddle-quartz-lantern"


QUICK = {"time_cost": 1, "memory_cost": 64, "parallelism": 1}


@pytest.fixture(autouse=True)
def quick_hashes(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(accounts, "HASHER", PasswordHasher(**QUICK))
    accounts._nobodys_hash.cache_clear()
    yield
    accounts._nobodys_hash.cache_clear()


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    store = Store(tmp_path_factory.mktemp("accounts") / "club.duckdb")
    store.create()
    for name in ("dana", "cleo"):
        hashed = PasswordHasher(**QUICK).hash(PASSWORD)
        add_person(store, Person(name, name.title(), "director"), hashed, "test")
    return store.path


@pytest.fixture
def store(made: Path, tmp_path: Path) -> Iterator[Store]:
    store = Store(shutil.copyfile(made, tmp_path / "club.duckdb"))
    with store.kept_open():
        yield store


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


def test_old_hash_is_renewed_at_sign_in(store: Store) -> None:
    weak = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    add_person(store, Person("old", "Old", "coach"), weak.hash(PASSWORD), "test")
    assert person_with_password(store, "old", PASSWORD) is not None
    renewed = password_hash(store, "old")
    assert renewed is not None
    assert not accounts.HASHER.check_needs_rehash(renewed)
    assert person_with_password(store, "old", PASSWORD) is not None


@pytest.mark.parametrize(
    ("password", "sentence"),
    [("tooshort11c", "has 11 characters and needs at least 12"), ("x" * 129, "longer than 128")],
)
def test_password_of_wrong_length_is_refused(password: str, sentence: str) -> None:
    with pytest.raises(BadInput, match=sentence):
        hash_password(password)


@pytest.mark.parametrize(
    "password",
    [
        "password1234",
        "manchesterunited",
        "qwertyuiop12",
        "aaaaaaaaaaaa",
        "Football2024!",
        "cleo.moor.1999",
    ],
)
def test_passwords_that_are_guessed_first_are_refused(password: str) -> None:
    with pytest.raises(BadInput, match="among the first that are guessed"):
        hash_password(password, "cleo.moor", "Cleo Moor")


@pytest.mark.parametrize(
    "password",
    [
        "three plain words here",
        "пароль из трёх слов",
        "🏀 tin 🏀 oar 🏀 fig",
        "paddle quartz lantern " + "x" * 106,
    ],
)
def test_any_character_makes_a_password(password: str) -> None:
    assert hash_password(password)


def test_changing_a_password_needs_the_current_one(store: Store) -> None:
    dana, sids = get_person(store, "dana"), ["a" * 64, "b" * 64]
    assert dana is not None
    for sid in sids:
        open_web_session(store, "dana", sid, datetime.now(UTC) + timedelta(hours=1))
    with pytest.raises(BadInput, match="The current password is wrong"):
        change_own_password(store, dana, sids[0], "a wrong one", NEW_PASSWORD, NEW_PASSWORD)
    with pytest.raises(BadInput, match="do not match"):
        change_own_password(store, dana, sids[0], PASSWORD, NEW_PASSWORD, "another")
    with pytest.raises(BadInput, match="is the current one"):
        change_own_password(store, dana, sids[0], PASSWORD, PASSWORD, PASSWORD)
    with pytest.raises(BadInput, match="at least 12"):
        change_own_password(store, dana, sids[0], PASSWORD, "short", "short")
    change_own_password(store, dana, sids[0], PASSWORD, NEW_PASSWORD, NEW_PASSWORD)
    assert person_with_password(store, "dana", NEW_PASSWORD) == dana
    assert person_with_password(store, "dana", PASSWORD) is None
    now = datetime.now(UTC)
    assert [person_of_web_session(store, sid, now) for sid in sids] == [dana, None]


def test_the_current_password_cannot_be_guessed_from_an_open_browser(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(accounts, "own_attempts", Attempts(Clock()))
    dana = get_person(store, "dana")
    assert dana is not None
    for _ in range(FREE_ATTEMPTS):
        with pytest.raises(BadInput, match="is wrong"):
            change_own_password(store, dana, "", "a wrong one", NEW_PASSWORD, NEW_PASSWORD)
    with pytest.raises(BadInput, match="Too many attempts. Wait 2 seconds"):
        change_own_password(store, dana, "", PASSWORD, NEW_PASSWORD, NEW_PASSWORD)


def test_generated_passwords_differ_and_are_allowed() -> None:
    passwords = {generate_password() for _ in range(50)}
    assert len(passwords) == 50
    assert all(hash_password(password) for password in list(passwords)[:1])
    assert all(len(password) >= accounts.SHORTEST_PASSWORD for password in passwords)


@pytest.mark.parametrize("name", ["a", "two words", "-dash", "x" * 65, "né", ""])
def test_sign_in_names_that_cannot_be_used(name: str) -> None:
    with pytest.raises(BadInput, match="sign-in name cannot be used"):
        sign_in_name(name)


def test_sign_in_name_is_trimmed_and_made_lower_case() -> None:
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
    attempts = Attempts(Clock())
    waits = [attempts.take(*subjects_of(f"name{n}", "192.0.2.1")) for n in range(22)]
    assert waits == [0] * 20 + [2, 2]


def guess_for(
    attempts: Attempts, clock: Clock, seconds: float, addresses: list[str]
) -> tuple[int, float]:
    """Guess dana's password as fast as allowed; count guesses and the seconds dana must wait.

    Dana uses a browser that is new to her, at an address that the guesser does not use.
    """
    guesses, waiting, until = 0, 0.0, clock.now + seconds
    while clock.now < until:
        for address in addresses:
            guesses += attempts.take(*subjects_of("dana", address)) == 0
        subject = subjects_of("dana", "198.51.100.7")[2]
        blocked = attempts._count(subject.name, clock.now).ready_at(subject) > clock.now
        waiting += float(blocked)
        clock.now += 1
    return guesses, waiting


def test_guessing_from_one_address_locks_nobody_else_out_for_long() -> None:
    clock = Clock()
    attempts = Attempts(clock)
    guesses, waiting = guess_for(attempts, clock, 1800, ["192.0.2.1"])
    assert guesses < 20 and waiting == 0
    guesses, waiting = guess_for(attempts, clock, 4 * 3600, ["192.0.2.1"])
    assert guesses <= 4 * 12 + 1
    assert waiting <= 0.21 * 4 * 3600


def test_many_addresses_guess_fewer_than_100_times_an_hour() -> None:
    clock = Clock()
    attempts = Attempts(clock)
    addresses = [f"192.0.2.{n}" for n in range(200)]
    guesses, _ = guess_for(attempts, clock, 3600, addresses)
    assert 20 < guesses < 100


def test_guessing_from_everywhere_does_not_lock_out_a_known_browser() -> None:
    clock = Clock()
    attempts = Attempts(clock)
    guess_for(attempts, clock, 1800, [f"192.0.2.{n}" for n in range(200)])
    assert attempts.take(*subjects_of("dana", "192.0.2.1")) > 0
    assert attempts.take(*subjects_of("dana", "192.0.2.1", browser="b" * 64)) == 0


def test_a_known_browser_is_slowed_down_as_well() -> None:
    attempts = Attempts(Clock())
    subjects = subjects_of("dana", "192.0.2.1", browser="b" * 64)
    assert [attempts.take(*subjects) for _ in range(6)] == [0] * 5 + [2]


def test_memory_of_attempts_is_bounded() -> None:
    attempts = Attempts(Clock())
    for number in range(MOST_KEYS + 50):
        attempts.take(Subject(f"person {number}", 1))
    assert len(attempts._counts) == MOST_KEYS
