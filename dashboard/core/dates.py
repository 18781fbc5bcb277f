"""Dates in the reader's locale, with times on the 24-hour clock, as people type them."""

from __future__ import annotations

from datetime import date
from typing import Literal

from babel.dates import format_date, format_skeleton

from dashboard.core.reader import reader_locale

FIRST_DAY, LAST_DAY = date(1950, 1, 1), date(2149, 12, 31)
"""The days that somebody can mean; any others are typing mistakes."""

__all__ = ["FIRST_DAY", "LAST_DAY", "day", "day_of_year", "moment", "weekday"]

Form = Literal["short", "long", "full"]


def day(when: date, form: Form = "short") -> str:
    """Return a day: `3 Nov 2026`, long `3 November 2026`, full `Tuesday, 3 November 2026`."""
    locale = reader_locale()
    if form == "short":
        return format_skeleton("yMMMd", when, locale=locale)
    return format_date(when, form, locale=locale)


def day_of_year(when: date) -> str:
    """Return a day without its year: `3 Nov`."""
    return format_skeleton("MMMd", when, locale=reader_locale())


def weekday(when: date) -> str:
    """Return a day with its weekday and without its year: `Tuesday 3 November`."""
    return format_date(when, "EEEE d MMMM", locale=reader_locale())


def moment(when: date, form: Form = "short") -> str:
    """Return a day and its time: `3 Nov 2026, 17:30`."""
    return f"{day(when, form)}, {when:%H:%M}"
