"""Where a measure's smallest worthwhile change comes from."""

from __future__ import annotations

from db.file.settings import get_setting, set_setting
from db.file.store import Store
from db.roster.measures import Measure

PROPOSED_KEY = "worthwhile_proposed"
"""Name of a setting, followed by `:CODE`: the proposal from the team's sessions that was taken."""

PROPOSED, SET = "proposed by your own sessions", "set by hand, or as it came with the program"


def note_proposed(store: Store, measure: Measure, value: float, person: str) -> None:
    """Note that a number was taken as the team's own sessions proposed it."""
    set_setting(store, f"{PROPOSED_KEY}:{measure.code}", f"{value:g}", person)


def worthwhile_source(store: Store, measure: Measure) -> str:
    """Return where the present number comes from; one typed over a proposal was set by hand."""
    proposed = get_setting(store, f"{PROPOSED_KEY}:{measure.code}", "")
    return PROPOSED if proposed == f"{measure.worthwhile_pct:g}" else SET
