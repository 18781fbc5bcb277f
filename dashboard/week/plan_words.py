"""What became of a week's plans."""

from __future__ import annotations

from datetime import date

import pandas as pd

from dashboard.core import dates
from dashboard.core.numbers import Row, counted, number, volume
from dashboard.game.tables import DONE_WORDS
from dashboard.results import outcome_words
from dashboard.results.plan_outcomes import outcomes
from dashboard.week.report import WeekReport
from dashboard.week.sections import Item, Link, Section, measure_query, to_day


def plans_section(report: WeekReport) -> Section:
    """Return how far the plans were followed, and what they brought."""
    plans, title = report.plans, "Plans of the week"
    opens = tuple(
        Link(script, label, measure_query(report))
        for script, label in (
            ("before_session", "Today"),
            ("did_it_work", "Results"),
        )
    )
    if plans.empty:
        none = "No length was set for a day of this week."
        return Section(title, (none,), opens=opens)
    counts = plans["done"].value_counts()
    told = ", ".join(f"{int(counts.get(word, 0))} {word}" for word in DONE_WORDS)
    says = (
        f"{counted(len(plans), 'plan')} for {counted(plans['day'].nunique(), 'day')}: {told}.",
        *_brought_sentences(plans),
    )
    items = [
        *(_unrecorded(report, day, plans[plans["day"] == day]) for day in plans["day"].unique()),
        *(_otherwise(report, row) for row in plans.to_dict("records")),
    ]
    return Section(title, says, tuple(item for item in items if item), opens)


def _brought_sentences(plans: pd.DataFrame) -> list[str]:
    """Say what the plans led to: start values against the level of their day."""
    if plans["against_level_pct"].isna().all():
        return ["Nothing can be said of what they brought: no start value was measured."]
    return outcome_words.outcome_sentences(outcomes(plans))


def _unrecorded(report: WeekReport, day: date, plans: pd.DataFrame) -> Item | None:
    """Return how many plans of a day are not recorded yet; None if all are."""
    missing = int((plans["done"] == "not recorded").sum())
    if not missing:
        return None
    text = f"{missing} of {counted(len(plans), 'plan')} not recorded"
    return Item(text, to_day(report, day, dates.day(day)))


def _otherwise(report: WeekReport, row: Row) -> Item | None:
    """Return a plan that was changed or skipped; None for any other."""
    if row["done"] not in ("changed", "skipped"):
        return None
    did = f", did {number(row['done_volume'])}" if row["done"] == "changed" else ""
    chosen = volume(row["chosen_volume"], report.measure.volume_unit)
    around = f" ({row['game_day']})" if row["game_day"] else ""
    text = f"{row['done']} on {dates.day_of_year(row['day'])}{around}: {chosen} set{did}"
    return Item(text, to_day(report, row["day"], row["name"]))
