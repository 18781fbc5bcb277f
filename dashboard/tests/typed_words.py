"""Plain sentences for typing sessions in."""

from __future__ import annotations

from dashboard.core import dates
from dashboard.core.numbers import counted
from dashboard.rules.stop_rules import rule_words
from db.efforts.new_rounds import StopRule
from db.efforts.typed_sessions import SessionEntry
from db.roster.measures import Measure


def how_to_enter(measure: Measure, kind: str, rule: StopRule) -> str:
    """Return how a session of a measure is typed in."""
    if kind == "fade":
        return (
            f"Maximal efforts, one after another, in {measure.unit}: {rule_words(rule, measure)},"
            " at any sign of pain, or when the athlete says so."
        )
    return (
        f"Efforts in {measure.unit} after a warm-up. Say how many {measure.volume_unit} were done"
        " before the first one."
    )


def session_stored(entry: SessionEntry, name: str, measure: Measure) -> str:
    """Return what was saved of a session that was typed in."""
    return (
        f"Stored for {name}: {counted(len(entry.efforts), 'effort')} of {measure.name.lower()},"
        f" {dates.moment(entry.started_at, 'long')}."
    )
