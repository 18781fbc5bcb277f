"""Table columns whose numbers and dates the browser writes in its own locale."""

from __future__ import annotations

from typing import Any

from streamlit import column_config

from dashboard.core.reader import reader_locale

__all__ = ["days", "decimals", "moments", "values"]


def days(label: str | None = None) -> Any:
    """Return a column of days."""
    return column_config.DateColumn(label, format=_form(""))


def moments(label: str | None = None, timezone: str | None = None) -> Any:
    """Return a column of days with their time."""
    return column_config.DatetimeColumn(label, format=_form(", HH:mm"), timezone=timezone)


def decimals(digits: int, label: str | None = None, **look: Any) -> Any:
    """Return a column of numbers with this many decimals each."""
    return column_config.NumberColumn(label, format="localized", step=10.0**-digits, **look)


def values(label: str | None = None, **look: Any) -> Any:
    """Return a column of numbers, each as long as it needs."""
    return column_config.NumberColumn(label, format="localized", **look)


def _form(time: str) -> str:
    """Return how to write days: in English as in sentences, otherwise as the browser does.

    Streamlit knows month names only in English. Its other form shows seconds and, for Americans,
    the 12-hour clock.
    """
    locale = reader_locale()
    if locale.language != "en":
        return "localized"
    pattern = locale.datetime_skeletons["yMMMd"].pattern
    return pattern.replace("d", "D").replace("y", "YYYY") + time
