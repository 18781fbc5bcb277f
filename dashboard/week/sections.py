"""A section of the week: what it says, what there is to look at, and where."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from dashboard.core import dates
from dashboard.core.numbers import Row
from dashboard.week.fit_moments import Week
from dashboard.week.report import WeekReport


@dataclass(frozen=True)
class Link:
    """A link to a page: its script, what the link says, and the query it opens with."""

    script: str
    label: str
    query: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Item:
    """One thing to look at, and where."""

    text: str
    link: Link


@dataclass(frozen=True)
class Section:
    """A part of the week: what it says, its items, and pages that hold more."""

    title: str
    says: tuple[str, ...]
    items: tuple[Item, ...] = ()
    opens: tuple[Link, ...] = ()


def week_label(week: Week) -> str:
    """Return a week in words: `16 Nov to 22 Nov 2026`."""
    first, last = week.first, week.last
    begins = dates.day_of_year(first) if first.year == last.year else dates.day(first)
    return f"{begins} to {dates.day(last)}"


def of_athlete(report: WeekReport, row: Row, text: str) -> Item:
    """Return an item that opens the athlete's page."""
    query = {"athlete": row["athlete"], **measure_query(report)}
    return Item(text, Link("athlete", row["name"], query))


def to_day(report: WeekReport, day: date, label: str) -> Link:
    """Return a link to the plans of a day."""
    return Link("before_session", label, {"plan_day": f"{day:%Y-%m-%d}", **measure_query(report)})


def measure_query(report: WeekReport) -> dict[str, str]:
    """Return the query that opens a page with the measure of the report."""
    return {"measure": report.measure.code}
