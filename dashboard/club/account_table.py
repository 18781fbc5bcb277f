"""The table of everybody with an account."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

import pandas as pd

from dashboard.core import dates
from db.people.accounts import Person


def people(
    accounts: list[Person],
    athletes: dict[str, str],
    seen: dict[str, str],
    invited: Mapping[str, datetime],
) -> pd.DataFrame:
    """Return everybody with an account.

    `athletes` are names by code; `seen` is whom each person sees, and `invited` until when their
    link is open. The column `sees` comes right after the name, as a phone shows few columns.
    """
    return pd.DataFrame(
        [
            {
                "name": each.display_name,
                "sees": seen[each.person],
                "role": each.role,
                "athlete": athletes.get(each.athlete or "", each.athlete or ""),
                "may sign in": "yes" if each.active else "no",
                "signs in as": each.person,
                "link open until": dates.day(invited[each.person].date())
                if each.person in invited
                else "",
                "e-mail": each.email or "",
            }
            for each in accounts
        ]
    )
