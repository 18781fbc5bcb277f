"""What an athlete's own page without script says, signed in or by a private link.

Signed in the athlete sees all of it. A private link may pass through many hands, so its page
leaves out the coach's reasons, the sessions, and what the club keeps.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from dashboard.core import dates
from dashboard.core.numbers import number, volume
from dashboard.curve import account_words, words
from dashboard.fits.curve_rows import CurveRow, curve_rows
from dashboard.fits.kept_curves import kept_draws
from dashboard.fits.lengths import response_history, responses
from dashboard.fits.usual_terms import curves, latest_fit, placed_efforts, usual_terms
from dashboard.game import prevention_words, substitute_words
from dashboard.game.lines import Line, WaveLines
from dashboard.own import words as own_words
from dashboard.own.coming import coming_sentences
from dashboard.own.curve_picture import CurvePicture, curve_picture
from dashboard.own.game import games_to_warm_up_for, own_lines
from dashboard.screen import units
from db.efforts.rows import sessions
from db.file.store import Store
from db.fits.results import KeptFit
from db.plans.games import Game
from db.roster.measures import Measure, list_measures

LATEST = 3
"""Sessions that are listed at once; the others are a tap away."""


@dataclass(frozen=True)
class GamePart:
    """An athlete's next game: when to start, what to do, and why so much.

    Attributes
    ----------
    when, starts : str
        The day with the first whistle, and when the athlete begins.
    steps : tuple of (str, str)
        Each with its time, up to the first whistle.
    in_short : str
        The same in one line.
    sentences : tuple of str
        Why, and what else to do.
    files : tuple of (str, str)
        Names and addresses of what can be taken along; none by a private link.
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
        The measure, the message of the curve, and the length with its unit (may be empty).
    coming : tuple of str
        What is set for the days to come.
    picture : CurvePicture or None
        None without a curve.
    unit : str
    sentences : tuple of str
        What the curve means and how sure it is.
    usual, changed : str
        In which circumstances volumes are meant; what the newest curves changed.
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


def measure_parts(own: Store, athlete: str, blocked: bool) -> list[MeasurePart]:
    """Return what every measure tells that the athlete has done or that has a curve of theirs."""
    parts = [measure_part(own, each, athlete, blocked) for each in list_measures(own)]
    return [part for part in parts if part is not None]


def game_parts(own: Store, athlete: str, signed_in: bool) -> list[GamePart]:
    """Return the games to come, the next one first; of two on a day the next."""
    now = datetime.now()
    measures = {each.code: each for each in list_measures(own)}
    since = datetime.combine(now.date(), datetime.min.time())
    next_ones: dict[tuple[date, str], GamePart] = {}
    for game, wave, line in own_lines(games_to_warm_up_for(own, since), athlete, now):
        if (game.day, game.measure) not in next_ones:
            part = _game_part(own, game, wave, line, measures[game.measure], signed_in)
            next_ones[game.day, game.measure] = part
    return list(next_ones.values())


def _game_part(
    own: Store, game: Game, wave: WaveLines, line: Line, measure: Measure, signed_in: bool
) -> GamePart:
    unit, minutes = measure.volume_unit, prevention_words.minutes(line)
    general, much = number(line.player.general_minutes), volume(line.volume, unit)
    steps = [
        (f"{line.general_at:%H:%M}", f"{general} min general part"),
        (f"{line.efforts_at:%H:%M}", much),
        (f"{line.ready_at:%H:%M}", "ready"),
        (f"{wave.starts_at:%H:%M}", "first whistle"),
    ]
    if minutes:
        steps.insert(0, (f"{line.begins_at:%H:%M}", f"{number(minutes)} min injury prevention"))
    told = [
        *_why(own, line, measure, signed_in),
        prevention_words.sentence(game),
        substitute_words.half_time_line(line, unit),
        substitute_words.bench_words(line, wave, unit),
    ]
    asked = f"day={game.day}&measure={game.measure}"
    files = (
        ("Into my calendar", f"/download/my-game.ics?{asked}"),
        ("Keep on my phone", f"/download/my-game.html?{asked}"),
    )
    return GamePart(
        when=f"{dates.day(wave.starts_at, 'full')}, {wave.starts_at:%H:%M}",
        starts=f"{line.begins_at:%H:%M}",
        steps=tuple(steps),
        in_short=f"{general} min moving, then {much}, ready {line.ready_at:%H:%M}",
        sentences=tuple(sentence for sentence in told if sentence),
        files=files if signed_in else (),
    )


def _why(own: Store, line: Line, measure: Measure, signed_in: bool) -> list[str]:
    """Say why it is so much: what the curve asks for, what this gives away, and the reason."""
    plan = line.player.plan
    rows = curve_rows(responses(own, measure.code, plan.athlete))
    drawn = kept_draws(own, measure.code, plan.athlete).get(plan.athlete)
    if not rows or drawn is None or not rows[0]["sessions"]:
        return []
    told = [own_words.why_sentence(rows[0], line.volume, drawn.lost_pct(line.volume))]
    return [*told, f"The reason given: {plan.reason}."] if signed_in and plan.reason else told


def measure_part(own: Store, measure: Measure, athlete: str, blocked: bool) -> MeasurePart | None:
    """Return what one measure tells; None where nothing is done, known or set."""
    tests, fit = sessions(own, athlete, measure.code), latest_fit(own, measure.code)
    rows = curve_rows(responses(own, measure.code, athlete))
    row = rows[0] if rows and rows[0]["sessions"] else None
    coming = [] if blocked else coming_sentences(own, measure, athlete)
    if tests.empty and row is None and not coming:
        return None
    unit = measure.volume_unit
    best = tests["highest_value"] if measure.better == "higher" else tests["lowest_value"]
    done = tuple(
        (dates.day(session["started_at"]), own_words.session_words(session, value))
        for session, value in zip(
            tests.to_dict("records"), units.told(best, measure.unit), strict=True
        )
    )
    if fit is None or row is None:
        headline = f"There is no curve of your {measure.name.lower()} yet"
        return MeasurePart(measure.name, headline, "", tuple(coming), None, unit, (), "", "", done)
    terms = usual_terms(own, measure.code)
    length = None if blocked else row["length"]
    return MeasurePart(
        title=measure.name,
        headline=words.headline(row, fit.standard_volume, to_athlete=True),
        length="" if length is None else volume(length, unit),
        coming=tuple(coming),
        picture=_picture(own, measure, row, fit, length),
        unit=unit,
        sentences=(
            words.own_length_sentence(row, unit),
            "" if length is None else words.limit_sentence(row).strip(),
            *words.own_sentences(row, fit.standard_volume, unit),
        ),
        usual=account_words.usual_sentence(terms) if terms else "",
        changed="" if blocked else _changed(own, measure, athlete),
        sessions=done,
    )


def _picture(
    own: Store, measure: Measure, row: CurveRow, fit: KeptFit, length: float | None
) -> CurvePicture:
    athlete = row["athlete"]
    points = placed_efforts(own, measure, athlete)
    return curve_picture(curves(own, measure.code, athlete), points, row, fit, length)


def _changed(own: Store, measure: Measure, athlete: str) -> str:
    fits = response_history(own, measure.code, athlete).tail(2).to_dict("records")
    if len(fits) < 2:
        return ""
    before, now = fits
    return own_words.changed_sentence(before, now, measure.volume_unit)
