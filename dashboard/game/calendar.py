"""A game's warm-up as iCalendar files (RFC 5545), for one athlete or for the staff.

Times are local, without a zone, as in the store: they mean the clock where the game is. A changed
plan keeps its UID and gets a higher SEQUENCE, so calendars replace the old one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from icalendar import Calendar, Event

from dashboard.core import cautions
from dashboard.core.numbers import volume
from dashboard.game import prevention_words, substitute_words, words
from dashboard.game.lines import Line, WaveLines
from db.plans.kept_games import KeptGame

PRODUCT = "-//warmcurve//game warm-up//EN"


def athlete_calendar(
    games: Sequence[tuple[KeptGame, tuple[WaveLines, ...]]], athlete: str, unit: str
) -> bytes:
    """Return a calendar with one athlete's warm-ups.

    Parameters
    ----------
    games
        Saved games with their waves.
    athlete
        Code.
    unit
        Volume unit in words.
    """
    return _calendar(
        _athlete_event(kept, place, wave, line, unit)
        for place, (kept, waves) in enumerate(games, start=1)
        for wave in waves
        for line in wave.lines
        if line.player.plan.athlete == athlete
    )


def staff_calendar(games: Sequence[tuple[KeptGame, tuple[WaveLines, ...]]], unit: str) -> bytes:
    """Return a calendar with every wave and the names of its athletes."""
    return _calendar(
        _wave_event(kept, place, wave, unit)
        for place, (kept, waves) in enumerate(games, start=1)
        for wave in waves
        if wave.lines
    )


def _calendar(events: Iterable[Event]) -> bytes:
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    for event in events:
        calendar.add_component(event)
    return calendar.to_ical()


def _athlete_event(kept: KeptGame, place: int, wave: WaveLines, line: Line, unit: str) -> Event:
    told = [words.player_line(line, wave, unit)]
    told += [
        sentence
        for sentence in (
            substitute_words.half_time_line(line, unit),
            substitute_words.bench_words(line, wave, unit),
        )
        if sentence
    ]
    what = volume(line.volume, unit) if line.volume else "general part only"
    return _event(
        kept,
        key=f"{place}-{wave.start_number}-{line.player.plan.athlete}",
        begins=line.begins_at,
        ends=wave.starts_at,
        summary=f"Warm-up: {what}, start {words.clock(wave.starts_at)}",
        told=told,
    )


def _wave_event(kept: KeptGame, place: int, wave: WaveLines, unit: str) -> Event:
    told = [
        f"{prevention_words.first(wave)}general part from"
        f" {words.clock(wave.general_at)}, efforts from"
        f" {words.clock(wave.efforts_at)}, ready {words.clock(wave.ready_at)}.",
        *(
            f"{line.name}: {words.player_line(line, wave, unit)}"
            if not wave.as_the_wave(line)
            else line.name
            for line in wave.lines
        ),
    ]
    return _event(
        kept,
        key=f"{place}-{wave.start_number}-wave-{wave.wave}",
        begins=wave.first_at,
        ends=wave.ready_at,
        summary=f"Wave {wave.wave}: {words.wave_words(wave, unit)}",
        told=told,
    )


def _event(
    kept: KeptGame, key: str, begins: datetime, ends: datetime, summary: str, told: list[str]
) -> Event:
    game, event = kept.game, Event()
    event.add("uid", f"{game.day}-{game.measure}-{key}@warmcurve")
    event.add("dtstamp", kept.saved_at)
    event.add("sequence", kept.game_id)
    event.add("dtstart", begins)
    event.add("dtend", max(ends, begins + timedelta(minutes=1)))
    event.add("summary", summary)
    event.add("description", "\n".join([*told, cautions.CAUTION]))
    return event
