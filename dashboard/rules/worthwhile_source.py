"""Where the smallest change worth having of a measure comes from."""

from __future__ import annotations

from db.file.settings import get_setting, set_setting
from db.file.store import Store
from db.roster.measures import Measure

PROPOSED_KEY = "worthwhile_proposed"
"""A setting, with `:CODE` behind it: the number that own sessions proposed and that was taken."""

PROPOSED, SET = "proposed by your own sessions", "set by hand, or as it came with the program"


def note_proposed(store: Store, measure: Measure, value: float, person: str) -> None:
    """Note that a number was taken as the own sessions proposed it."""
    set_setting(store, f"{PROPOSED_KEY}:{measure.code}", f"{value:g}", person)


def worthwhile_source(store: Store, measure: Measure) -> str:
    """Return where the number that is set comes from; one typed over a proposal is typed."""
    proposed = get_setting(store, f"{PROPOSED_KEY}:{measure.code}", "")
    return PROPOSED if proposed == f"{measure.worthwhile_pct:g}" else SET
