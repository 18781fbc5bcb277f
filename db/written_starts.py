"""Starts of sessions that are dates without a time of day."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime, time

from db.cells import lacks_time, moment_of
from db.errors import BadInput

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
        The different starts of a file.
    clock : str
        The time of day of those that have none, as from `clock_of`; empty if nobody says it.
    times_said : bool
        Whether a time is meant wherever it is written.

    Returns
    -------
    dict of str to str
        The start as it is read, where that is another text.
    """
    moments = {text: moment for text in texts if (moment := moment_of(text)) is not None}
    dates = {text for text in moments if lacks_time(text)}
    if not times_said and all(moment.time() == _MIDNIGHT for moment in moments.values()):
        dates = set(moments)
    if not clock:
        return {text: moments[text].date().isoformat() for text in dates if not lacks_time(text)}
    hour = time.fromisoformat(clock)
    starts = {text: datetime.combine(moments[text], hour, moments[text].tzinfo) for text in dates}
    return {text: start.isoformat() for text, start in starts.items()}
