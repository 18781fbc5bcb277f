"""What an athlete's own page without script says, signed in or by a private link.

An athlete who is signed in sees everything. A private link may pass through many hands, so its
page leaves out the coach's reasons, the sessions, and what the club keeps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from dashboard.core import dates
from dashboard.core.numbers import number, volume
from dashboard.curve import account_words, words
from dashboard.game import prevention_words
from dashboard.game.lines import Line, WaveLines
from dashboard.own import words as own_words
from dashboard.own.coming import coming_sentences
from dashboard.own.curve_picture import CurvePicture, curve_picture
from dashboard.own.facts import CurveFacts, OwnFacts
from dashboard.own.why import game_why
from dashboard.screen import units
from dashboard.screen.menu import at
from db.plans.kept_games import KeptGame
from db.roster.measures import Measure

LATEST = 3
"""How many sessions are listed at first; the others are a tap away."""


@dataclass(frozen=True)
class GamePart:
    """An athlete's next game: when to start, what to do, and why that much.

    Attributes
    ----------
    when, starts : str
        The day and the start of the game, and when the athlete begins.
    steps : tuple of (str, str)
        The time of each step, and the step, up to the start.
    in_short : str
        The same in one line.
    sentences : tuple of str
        Why, and what else to do.
    files : tuple of (str, str)
        Names and addresses of files to download; none by a private link.
    """

    when: str
    starts: str
    steps: tuple[tuple[str, str], ...]
    in_short: str
    sentences: tuple[str, ...]
    files: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class MeasurePart:
    """What one measure tells an athlete.

    Attributes
    ----------
    title, headline, length : str
        The measure, the message of the curve, and what the length is (may be empty).
    coming : tuple of str
        What is set for the days to come.
    picture : CurvePicture or None
        None without a curve.
    unit : str
    sentences : tuple of str
        What the curve means and how sure it is.
    usual, changed : str
        The circumstances that volumes are meant for; what the newest curves changed.
    sessions : tuple of (str, str)
        Day and what was done, newest first.
    """

    title: str
    headline: str
    length: str
    coming: tuple[str, ...]
    picture: CurvePicture | None
    unit: str
    sentences: tuple[str, ...]
    usual: str
    changed: str
    sessions: tuple[tuple[str, str], ...]


Lines = Sequence[tuple[KeptGame, WaveLines, Line]]
"""What `dashboard.own.game.next_lines` returns."""


def measure_parts(known: OwnFacts, lines: Lines = (), signed_in: bool = True) -> list[MeasurePart]:
    """Return a part for each measure in which the athlete has sessions, a curve or set lengths."""
    parts = [_measure_part(known, each, lines, signed_in) for each in known.measures]
    return [part for part in parts if part is not None]


def game_parts(known: OwnFacts, lines: Lines, signed_in: bool) -> list[GamePart]:
    """Return the games to come, the next one first."""
    return [_game_part(known, *each, signed_in) for each in lines]


def _game_part(
    known: OwnFacts, kept: KeptGame, wave: WaveLines, line: Line, signed_in: bool
) -> GamePart:
    game = kept.game
    unit = next(each.volume_unit for each in known.measures if each.code == game.measure)
    general, much = number(line.player.general_minutes), volume(line.volume, unit)
    efforts = [(f"{line.efforts_at:%H:%M}", much)] if line.volume else []
    minutes = prevention_words.minutes(line)
    steps = [
        (f"{line.general_at:%H:%M}", f"{general} min general part"),
        *efforts,
        (f"{line.ready_at:%H:%M}", "ready"),
        (f"{wave.starts_at:%H:%M}", game.start_word),
    ]
    if minutes:
        steps.insert(0, (f"{line.begins_at:%H:%M}", f"{number(minutes)} min injury prevention"))
    told = [
        *game_why(kept, line, known.curves.get(game.measure), signed_in),
        *own_words.game_sentences(game, wave, line, unit),
    ]
    asked = f"day={game.day}&measure={game.measure}"
    files = (
        ("Into my calendar", at(f"/download/my-game.ics?{asked}")),
        ("Keep on my phone", at(f"/download/my-game.html?{asked}")),
    )
    return GamePart(
        when=f"{dates.weekday(wave.starts_at)}, {wave.starts_at:%H:%M}",
        starts=f"{line.begins_at:%H:%M}",
        steps=tuple(steps),
        in_short=f"{general} min moving{f', then {much}' if efforts else ''},"
        f" ready {line.ready_at:%H:%M}",
        sentences=tuple(sentence for sentence in told if sentence),
        files=files if signed_in else (),
    )


def _measure_part(
    known: OwnFacts, measure: Measure, lines: Lines, signed_in: bool
) -> MeasurePart | None:
    """Return what one measure tells; None if nothing was done, is known or is set."""
    tests = known.tests[known.tests["measure"] == measure.code]
    curve, unit = known.curves.get(measure.code), measure.volume_unit
    length = None if curve is None or known.blocked else curve.row["length"]
    coming = tuple(
        [] if known.blocked else coming_sentences(known.coming, measure, length, signed_in)
    )
    if tests.empty and curve is None and not coming:
        return None
    done = _done(tests, measure)
    if curve is None:
        headline = f"There is no curve of your {measure.name.lower()} yet"
        return MeasurePart(measure.name, headline, "", coming, None, unit, (), "", "", done)
    row, fit = curve.row, curve.fit
    planned = next(
        (line.volume for kept, _, line in lines if kept.game.measure == measure.code), None
    )
    return MeasurePart(
        title=measure.name,
        headline=words.headline(row, fit.standard_volume, to_athlete=True),
        length="" if length is None else own_words.length_words(length, planned, unit),
        coming=coming,
        picture=curve_picture(curve.curve, curve.points, row, fit, length, planned),
        unit=unit,
        sentences=(
            words.own_length_sentence(row, unit),
            "" if length is None else words.limit_sentence(row).strip(),
            *words.own_sentences(row, fit.standard_volume, unit),
        ),
        usual=account_words.usual_sentence(curve.terms) if curve.terms else "",
        changed="" if known.blocked else _changed(curve, unit),
        sessions=done,
    )


def _done(tests: pd.DataFrame, measure: Measure) -> tuple[tuple[str, str], ...]:
    """Return the day of each session and what was done in it."""
    best = tests["highest_value"] if measure.better == "higher" else tests["lowest_value"]
    told = zip(tests.to_dict("records"), units.told(best, measure.unit), strict=True)
    return tuple(
        (dates.day(session["started_at"]), own_words.session_words(session, value))
        for session, value in told
    )


def _changed(curve: CurveFacts, unit: str) -> str:
    if len(curve.a_week_apart) < 2:
        return ""
    before, now = curve.a_week_apart
    return own_words.changed_sentence(before, now, unit)
