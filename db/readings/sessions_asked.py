"""What a file seldom says about its sessions: kind, time of day, and where one ends."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress

import pandas as pd

from db.errors import BadInput
from db.imports.mappings import CLOCK
from db.layouts.laid_out import LaidOut
from db.layouts.plain_words import words_of
from db.layouts.written_dates import date_in, is_time_of_day, time_of_day
from db.readings.column_roles import Roles
from db.readings.readings import Choice, Question
from db.readings.value_columns import Values
from db.tables.cells import lacks_time
from db.tables.written_starts import clock_of, starts_as_read

__all__ = ["clock_of_days", "kind_of_sessions", "minutes_of_session"]

SESSION_MINUTES = 90
"""Efforts further apart belong to two sessions, if every effort has its own time."""


def kind_of_sessions(
    laid: LaidOut, roles: Roles, answers: Mapping[str, str], questions: list[Question]
) -> tuple[str, str]:
    """Return the kind of the sessions, and the volume before the first effort of each.

    Both are empty if columns give them, or while they are asked. The volume is also empty for
    fade tests.
    """
    if {"kind", "volume_before"} & roles.columns.keys():
        return "", ""
    if "fade" in {word for text in laid.said for word in words_of(text)}:
        return "fade", ""
    kind = answers.get("kind", "")
    kind = kind if kind in ("fade", "routine") else ""
    choices = (
        Choice("fade", "Tests to the end: nothing was done before the first effort"),
        Choice("routine", "After a warm-up: the efforts done before are not in the file"),
    )
    questions.append(Question("kind", "What kind of sessions are these?", choices, "choice", kind))
    if kind != "routine":
        return kind, ""
    volume = answers.get("volume", "").strip().replace(",", ".")
    volume = volume if volume.replace(".", "", 1).isdigit() else ""
    text = "How many efforts were done before the first one of each session?"
    questions.append(Question("volume", text, (), "number", volume))
    return kind, volume


def clock_of_days(
    laid: LaidOut,
    roles: Roles,
    starts: Sequence[str],
    answers: Mapping[str, str],
    questions: list[Question],
) -> str:
    """Ask for the time of day if days have none; empty if they have one, or while it is asked."""
    read = starts_as_read(starts, "", laid.table.times_said)
    if CLOCK in roles.columns or not any(lacks_time(read.get(start, start)) for start in starts):
        return ""
    said = ""
    with suppress(BadInput):
        said = clock_of(answers.get("clock", ""))
    said = said if is_time_of_day(said) else ""
    questions.append(Question("clock", "At what time of day were they?", (), "time", said))
    return said


def minutes_of_session(
    laid: LaidOut,
    roles: Roles,
    values: Values,
    form: str,
    answers: Mapping[str, str],
    questions: list[Question],
) -> int:
    """If every effort has its own time, ask whether those of one visit are one session.

    Returns
    -------
    int
        The longest pause within a session in minutes; 0 if a start is that of a session.
    """
    if not _each_its_own_time(laid, roles, form) or any(
        "effort" in each.says for each in values.found
    ):
        return 0
    said = answers.get("sessions", "")
    said = said if said in ("one", "each") else ""
    choices = (
        Choice("one", f"Rows less than {SESSION_MINUTES} minutes apart are one session"),
        Choice("each", "Every time is a session of its own"),
    )
    text = "Every row has its own time. Which rows are one session?"
    questions.append(Question("sessions", text, choices, "choice", said))
    return SESSION_MINUTES if said == "one" else 0


def _each_its_own_time(laid: LaidOut, roles: Roles, form: str) -> bool:
    """Tell whether close rows of one athlete are mostly minutes apart, and not at the same time."""
    day, who = roles.columns.get("started_at", ""), roles.columns.get("athlete", "")
    if not day or not who:
        return False
    frame = laid.table.frame
    texts = frame[day].str.strip()
    moments = texts.map({text: date_in(text, form or "year first") for text in texts.unique()})
    if clock := roles.columns.get(CLOCK):
        clocks = frame[clock].str.strip()
        clocks = clocks.map({text: time_of_day(text) for text in clocks.unique()})
        moments = moments.str.slice(stop=10) + "T" + clocks
    starts = pd.to_datetime(moments, format="ISO8601", errors="coerce", utc=True)
    keys = [frame[who].str.strip().to_numpy()]
    if measure := roles.columns.get("measure"):
        keys.append(frame[measure].str.strip().to_numpy())
    in_order = starts.sort_values()
    by = [pd.Series(key, frame.index).loc[in_order.index] for key in keys]
    gaps = pd.to_timedelta(in_order.groupby(by).diff()).dt.total_seconds().dropna()
    near = gaps[gaps <= 60 * SESSION_MINUTES]
    return len(near) > 0 and bool((near > 0).mean() > 0.5)
