"""Plain sentences on best volumes that seem to have changed."""

from __future__ import annotations

from dashboard.core import dates
from dashboard.core.numbers import Row, chance, counted, estimated_volume, percent

LEAST_CHANCE = 0.8
"""A change is reported from this chance on, as a call is."""

ALIKE = (
    "at about one volume a changed curve and a changed level look alike, so it is not told which"
    " it is; a fade test would tell"
)


FEWEST_SESSIONS = 4
TOO_FEW = f"too few sessions yet to tell; {FEWEST_SESSIONS} are needed."
NOT_LOOKED_FOR = (
    "These curves were worked out by an earlier version or stopped early, so this was not looked"
    " for. It stands here once they are worked out again."
)


def change_sentence(row: Row | None, unit: str, sessions: int = FEWEST_SESSIONS) -> str:
    """Return what an athlete's sessions say about a change of best volume.

    Parameters
    ----------
    row
        A row of `db.fits.best_volume_changes.best_volume_changes`, or None.
    unit
        Volume unit in words.
    sessions
        How many sessions the athlete has; used if there is no row.
    """
    if row is None:
        few = sessions < FEWEST_SESSIONS
        return f"Whether the best volume has changed: {TOO_FEW}" if few else NOT_LOOKED_FOR
    if row["chance"] < LEAST_CHANCE:
        return (
            "No sign that the best volume has changed over these sessions (chance"
            f" {chance(row['chance'])})."
        )
    sure = f"chance {chance(row['chance'])}, {counted(int(row['sessions_since']), 'session')} since"
    if not row["tellable"]:
        return f"Something has changed {since(row)} ({sure}), but {ALIKE}."
    return (
        f"Best volume went from {estimated_volume(row, 'before')} to"
        f" {estimated_volume(row, 'after')} {unit} {since(row)} ({sure})."
    )


def since(row: Row) -> str:
    """Return a change's date with its interval: `since 3 Nov 2026 (27 Oct to 10 Nov 2026)`."""
    start, first, last = row["since"], row["since_earliest"], row["since_latest"]
    day = f"since {dates.day(start)}"
    if first.date() == last.date():
        return day
    begins = dates.day_of_year(first) if first.year == last.year else dates.day(first)
    return f"{day} ({begins} to {dates.day(last)})"


def none_changed(checked: int, most_sessions: int) -> str:
    """Say that nobody's best volume seems to have changed, and how many were checked."""
    if not checked:
        few = most_sessions < FEWEST_SESSIONS
        return f"For everybody: {TOO_FEW}" if few else NOT_LOOKED_FOR
    return (
        f"None with a chance of {percent(100 * LEAST_CHANCE, 0)} or more, of"
        f" {counted(checked, 'athlete')} with enough sessions to tell."
    )
