"""Starts of sessions that are dates without a time of day."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime, time
from itertools import islice

from db.errors import BadInput
from db.tables.cells import lacks_time, moment_of
from db.tables.limits import MOST_SET_ASIDE

_MIDNIGHT = time()


def clock_of(text: str) -> str:
    """Give a time of day as ISO 8601 writes it; empty for an empty text.

    Raises
    ------
    BadInput
        If it is none.
    """
    written = text.strip()
    if not written:
        return ""
    try:
        return time.fromisoformat(written.zfill(len("09:30"))).isoformat("minutes")
    except ValueError:
        raise BadInput(f"'{text}' is not a time of day; write it as 09:30.") from None


def starts_as_read(texts: Collection[str], clock: str, times_said: bool) -> dict[str, str]:
    """Say of starts what they are, where they have no time of day and seem to, or get one.

    Programs that keep dates as moments write midnight for a date. Where all the starts of a file
    are at midnight, or dates, none of them has a time.

    Parameters
    ----------
    texts : collection of str
        The different starts of a file, in the order of their rows.
    clock : str
        The time of day of those that have none, as from `clock_of`; empty if nobody says it.
    times_said : bool
        Whether a time is meant wherever it is written.

    Returns
    -------
    dict of str to str
        The start as it is read, where that is another text; of starts without a time no more
        than have a file refused.
    """
    moments = (moment for text in texts if (moment := moment_of(text)) is not None)
    timeless = not times_said and all(moment.time() == _MIDNIGHT for moment in moments)
    dates = (
        (text, moment)
        for text in texts
        if (timeless or lacks_time(text)) and (moment := moment_of(text)) is not None
    )
    if not clock:
        days = ((text, day.date().isoformat()) for text, day in dates if not lacks_time(text))
        return dict(islice(days, MOST_SET_ASIDE + 1))
    hour = time.fromisoformat(clock)
    return {text: datetime.combine(day, hour, day.tzinfo).isoformat() for text, day in dates}
