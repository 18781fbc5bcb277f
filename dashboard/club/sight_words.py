"""Whom an account sees, in words: shown before it is saved, and afterwards."""

from __future__ import annotations

import pandas as pd

from dashboard.core.numbers import counted, listed
from db.file.store import Store
from db.people.accounts import Person
from db.people.sight import in_sight, sight_of
from db.roster.athletes import list_athletes
from db.roster.squads import squad_members

NOBODY_YET = (
    "You see no athletes yet. A director chooses on the page Accounts which squads you see, or"
    " all athletes."
)


def seen_athletes(store: Store, person: Person) -> pd.DataFrame:
    """Return whom a staff account sees or would see: `athlete`, `position`, `squads`, by name.

    Active athletes only, as the account itself would see them.
    """
    rows = list_athletes(in_sight(store, sight_of(person)), active_only=True)
    squads = dict(iter(squad_members(store).groupby("athlete")["squad"]))
    return pd.DataFrame(
        {
            "athlete": rows["name"],
            "position": rows["position"].astype(object).fillna(""),
            "squads": [", ".join(squads.get(code, ())) for code in rows["athlete"]],
        }
    )


def sees(store: Store, person: Person) -> str:
    """Return whom an account sees or would see, such as `sees 12 athletes of Under 19`.

    It counts the active athletes that the account itself would see.
    """
    if person.role == "athlete":
        return "sees their own page only"
    many = len(list_athletes(in_sight(store, sight_of(person)), active_only=True))
    if person.role == "director" or person.sees_all:
        return f"sees all athletes ({many} now)"
    if not person.squads:
        return "sees nobody yet"
    return f"sees {counted(many, 'athlete')} of {listed(list(person.squads))}"
