"""Squads as a director sets them: their names, and the coaches who see them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from db.errors import BadInput
from db.file.frames import fetch_number
from db.file.store import Store
from db.people.accounts import Person, list_people, set_role

LONGEST_NAME = 100


@dataclass(frozen=True)
class Squad:
    """A squad.

    Attributes
    ----------
    name : str
        As people know it.
    athletes, left : int
        Its active athletes, and those who have left.
    coaches : tuple of Person
        The coaches who were given this squad to see, by sign-in name.
    """

    name: str
    athletes: int
    left: int
    coaches: tuple[Person, ...]


def squads(store: Store) -> list[Squad]:
    """List the squads that have athletes or coaches, by name."""
    with store.reading() as cursor:
        rows = cursor.execute(
            "SELECT squad, count(*) FILTER (active), count(*) FILTER (NOT active) "
            "FROM athlete_squad JOIN athlete USING (athlete) GROUP BY squad"
        ).fetchall()
    counts = {name: (active, left) for name, active, left in rows}
    people = [each for each in list_people(store) if each.squads]
    names = sorted({*counts, *(name for each in people for name in each.squads)})
    return [
        Squad(
            name,
            *counts.get(name, (0, 0)),
            coaches=tuple(each for each in people if name in each.squads),
        )
        for name in names
    ]


def rename_squad(store: Store, name: str, new_name: str, person: str) -> None:
    """Give a squad another name, for its athletes and coaches alike.

    Raises
    ------
    BadInput
        If there is no such squad, the new name is empty, too long or another squad's.
    """
    wanted = " ".join(new_name.split())
    if not wanted or len(wanted) > LONGEST_NAME:
        raise BadInput(f"A squad needs a name of 1 to {LONGEST_NAME} letters.")
    with store.writing(person, "rename squad", f"{name} to {wanted}") as cursor:
        there = "SELECT count(*) FROM athlete_squad WHERE squad = ?"
        if not fetch_number(cursor, there, [name]):
            raise BadInput(f"There is no squad '{name}'. Check the name.")
        if wanted != name and fetch_number(cursor, there, [wanted]):
            raise BadInput(f"There is a squad '{wanted}' already. Move the athletes there instead.")
        for table in ("athlete_squad", "person_squad"):
            cursor.execute(f"UPDATE {table} SET squad = ? WHERE squad = ?", [wanted, name])


def set_squad_coaches(store: Store, name: str, coaches: Sequence[str], person: str) -> None:
    """Set the coaches who see a squad, and sign out those for whom that changes.

    Raises
    ------
    BadInput
        If one is not a coach, or sees all athletes, or there is no such squad.
    """
    accounts = {each.person: each for each in list_people(store)}
    for coach in coaches:
        account = accounts.get(coach)
        if account is None or account.role != "coach" or account.sees_all:
            raise BadInput(f"'{coach}' is no coach of squads. Give the account that role first.")
    for account in accounts.values():
        if account.limited and (name in account.squads) != (account.person in coaches):
            others = {each for each in account.squads if each != name}
            theirs = others | ({name} if account.person in coaches else set())
            set_role(store, account.person, "coach", person, squads=sorted(theirs))
