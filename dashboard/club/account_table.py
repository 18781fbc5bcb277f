"""Everybody with an account, as people read it."""

from __future__ import annotations

import pandas as pd

from db.people.accounts import Person


def people(accounts: list[Person], athletes: dict[str, str], seen: dict[str, str]) -> pd.DataFrame:
    """Return everybody with an account; names of athletes by code, whom each sees by person."""
    return pd.DataFrame(
        [
            {
                "name": each.display_name,
                "role": each.role,
                "athlete": athletes.get(each.athlete or "", each.athlete or ""),
                "sees": seen[each.person],
                "may sign in": "yes" if each.active else "no",
                "signs in as": each.person,
                "e-mail": each.email or "",
            }
            for each in accounts
        ]
    )
