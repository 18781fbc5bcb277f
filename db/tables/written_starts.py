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
    """Return a time of day in ISO 8601; empty for an empty text.

    Raises
    ------
    BadInput
        If the text is not a time of day.
    """
    written = text.strip()
    if not written:
        return ""
    try:
        return time.fromisoformat(written.zfill(len("09:30"))).isoformat("minutes")
    except ValueError:
        raise BadInput(f"'{text}' is not a time of day; write it as 09:30.") from None


def starts_as_read(texts: Collection[str], clock: str, times_said: bool) -> dict[str, str]:
    """Return how to read starts that only seem to have a time of day, or that get one.

    Programs that hold dates as moments write midnight for a date. If every start of a file is a
    date or at midnight, none of them has a time.

    Parameters
    ----------
    texts : collection of str
        The distinct starts of a file, in the order of their rows.
    clock : str
        The time of day for starts without one, from `clock_of`; empty if not stated.
    times_said : bool
        Whether every time of day in the file is meant.

    Returns
    -------
    dict of str to str
        The start as it is read, where that differs. Without a clock, it ends once there are
        enough starts without a time for the file to be refused.
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
