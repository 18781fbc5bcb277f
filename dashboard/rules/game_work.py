"""The opening work of a game: how many efforts count, and the recovery between two of them."""

from __future__ import annotations

from dataclasses import dataclass

from dashboard.core.numbers import counted, number
from dashboard.rules.work_limits import LONGEST_RECOVERY_SECONDS, MOST_EFFORTS
from db.errors import BadInput
from db.file.settings import get_setting, set_setting
from db.file.store import Store
from db.roster.measures import Measure, kind_of_effort

WORK_KEY = "game_work"
"""Name of a setting, followed by `:CODE`."""


@dataclass(frozen=True)
class GameWork:
    """What a game asks for at its beginning.

    Attributes
    ----------
    efforts : int
    recovery_seconds : float
        Between two of them.
    """

    efforts: int
    recovery_seconds: float


ONE_BEST = GameWork(1, 0.0)
WORK_OF = {
    "jump": GameWork(10, 60.0),
    "sprint": GameWork(10, 60.0),
    "throw": GameWork(6, 120.0),
    "other": GameWork(10, 60.0),
}
"""About the first ten minutes of a team game, by kind of effort (common practice, no source)."""


def game_work(store: Store, measure: Measure) -> GameWork:
    """Return the opening work of a game: as it was set for the measure, else the usual."""
    kept = get_setting(store, f"{WORK_KEY}:{measure.code}")
    if kept is None:
        return WORK_OF[kind_of_effort(measure)]
    efforts, seconds = kept.split()
    return GameWork(int(efforts), float(seconds))


def set_game_work(store: Store, measure: Measure, work: GameWork, person: str) -> None:
    """Set the opening work of a game for a measure.

    Raises
    ------
    BadInput
        If a number does not make sense.
    """
    if not 1 <= work.efforts <= MOST_EFFORTS:
        raise BadInput(f"There are {work.efforts} efforts; there must be 1 to {MOST_EFFORTS}.")
    if not 0 <= work.recovery_seconds <= LONGEST_RECOVERY_SECONDS:
        raise BadInput(
            f"The recovery is {work.recovery_seconds:g} s; it must be 0 to"
            f" {LONGEST_RECOVERY_SECONDS:g} s."
        )
    value = f"{work.efforts} {work.recovery_seconds:g}"
    set_setting(store, f"{WORK_KEY}:{measure.code}", value, person)


def work_words(work: GameWork) -> str:
    """Return the work in a few words."""
    between = f", {number(work.recovery_seconds)}\u00a0s between two" if work.efforts > 1 else ""
    return f"{counted(work.efforts, 'effort')}{between}"
