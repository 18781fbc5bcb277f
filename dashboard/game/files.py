"""Files of a saved game, for the athletes the store shows: sheet, phone view, calendars, table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from io import BytesIO
from pathlib import Path
from urllib.parse import quote
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

import pandas as pd
from jinja2 import Template

from dashboard.core import cautions, numbers
from dashboard.game import prevention_words, substitute_words, words
from dashboard.game.lines import Line, WaveLines, wave_lines
from dashboard.rules import protocol_words, weather_words
from dashboard.rules.club_limits import may_be_done
from db.errors import BadInput
from db.file.settings import get_setting
from db.file.store import Store
from db.fits.exports import csv_text
from db.fits.results import latest_fit
from db.plans.games import Game
from db.plans.kept_games import KeptGame, kept_games
from db.roster.athletes import list_athletes
from db.roster.measures import Measure, get_measure
from db.roster.protocols import protocol_of

LONGEST_NAME = 40
PHONE = Path(__file__).parents[1] / "assets" / "phone.html"


@dataclass(frozen=True)
class GameFiles:
    """The saved games of a day and measure, as files.

    Attributes
    ----------
    measure : Measure
    games : tuple of (KeptGame, tuple of WaveLines)
        One, unless the day has two games, or squads have planned separately.
    evidence, team : str
        What the curves are based on, and the team's name; empty if there is none.
    effort_line : str
        What one effort is, and how often one is done.
    """

    measure: Measure
    games: tuple[tuple[KeptGame, tuple[WaveLines, ...]], ...]
    evidence: str
    team: str
    effort_line: str = ""

    def pdf(self) -> bytes:
        """Return the printed sheet."""
        from dashboard.game.sheet import GameHeading, game_sheet

        heading = GameHeading(self.what, self.measure.volume_unit, self.evidence, self.team)
        return game_sheet([(kept.game, waves) for kept, waves in self.games], heading)

    @property
    def what(self) -> str:
        """The measure, and what one effort of it is."""
        return f"{self.measure.name}: {self.effort_line}" if self.effort_line else self.measure.name

    def csv(self) -> bytes:
        """Return a row for each athlete."""
        return csv_text(self.rows()).encode("utf-8")

    def rows(self) -> pd.DataFrame:
        """Return a row for each athlete: times as HH:MM, lengths in the volume unit, loss in %."""
        return pd.DataFrame(self._row(kept, wave, line) for kept, wave, line in self._everybody())

    def calendar(self, athlete: str | None = None) -> bytes:
        """Return the calendar of one athlete, or of the staff."""
        from dashboard.game.calendar import athlete_calendar, staff_calendar

        unit = self.measure.volume_unit
        if athlete is None:
            return staff_calendar(self.games, unit)
        return athlete_calendar(self.games, athlete, unit)

    def calendars(self) -> bytes:
        """Return all athletes' calendars and the staff's as a ZIP; same plan, same bytes."""
        packed = BytesIO()
        with ZipFile(packed, "w", ZIP_DEFLATED) as folder:
            for name, content in self.calendar_files().items():
                # `ZipInfo` has a fixed date; given only a name, `writestr` would use today's.
                folder.writestr(ZipInfo(name), content)
        return packed.getvalue()

    def calendar_files(self) -> dict[str, bytes]:
        """Return everybody's calendar and the staff's, by file name."""
        names = {line.player.plan.athlete: line.name for _, _, line in self._everybody()}
        return {"staff.ics": self.calendar()} | {
            f"{file_name(name, athlete)}.ics": self.calendar(athlete)
            for athlete, name in names.items()
        }

    def athletes(self) -> list[str]:
        """Return the codes of all who warm up, without repeats."""
        return list(dict.fromkeys(line.player.plan.athlete for _, _, line in self._everybody()))

    def phone(self, athlete: str | None = None) -> bytes:
        """Return one page for a phone, with everybody's line or one athlete's in large letters."""
        unit = self.measure.volume_unit
        games = [_game(kept.game, waves, athlete, unit) for kept, waves in self.games]
        games = [game for game in games if game["people"]]
        return phone_page(self.what, games)

    def _everybody(self) -> Iterator[tuple[KeptGame, WaveLines, Line]]:
        for kept, waves in self.games:
            for wave in waves:
                for line in wave.lines:
                    yield kept, wave, line

    def _row(self, kept: KeptGame, wave: WaveLines, line: Line) -> dict[str, object]:
        plan, loss = line.player.plan, line.player.loss_pct or (None, None, None)
        return {
            "day": kept.game.day,
            "measure": kept.game.measure,
            "start": words.clock(wave.starts_at),
            "wave": wave.wave,
            "athlete": plan.athlete,
            "name": line.name,
            "role": line.player.role,
            "begins": words.clock(line.begins_at),
            "general_minutes": line.player.general_minutes,
            "efforts_from": words.clock(line.efforts_at),
            "volume": line.volume,
            "volume_unit": self.measure.volume_unit,
            "ready": words.clock(line.ready_at),
            "advised_volume": plan.advised_volume,
            "standard_volume": plan.standard_volume,
            "set_by_hand": "yes" if line.player.own_length else "no",
            "half_time": line.player.half_time,
            "loss_pct": loss[0],
            "loss_pct_low": loss[1],
            "loss_pct_high": loss[2],
            "prevention_minutes": kept.game.prevention_minutes,
            "general_from": words.clock(line.general_at),
        }


def game_files(store: Store, day: date, measure: str) -> GameFiles:
    """Return the files of a day's games, for the athletes the store shows.

    Raises
    ------
    BadInput
        If no game is saved for that day and measure, or there is no such measure.
    """
    facts, kept = get_measure(store, measure), kept_games(store, day, measure)
    if not kept:
        raise BadInput(
            f"No game with a time to start is saved for {facts.name.lower()} on {day:%d %B %Y}."
            " Save its plan on the page 'Today' first."
        )
    return files_of(store, kept)


def files_of(store: Store, games: Sequence[KeptGame]) -> GameFiles:
    """Return the files of some games of one day and measure, by what may be done now.

    Raises
    ------
    BadInput
        If nobody is left.
    """
    measure = games[0].game.measure
    games = may_be_done(store, games)
    if not games:
        raise BadInput("Nobody of this game may warm up now: see their status on 'Athlete'.")
    people = list_athletes(store)
    names = dict(zip(people["athlete"], people["name"], strict=True))
    fit = latest_fit(store, measure)
    evidence = [] if fit is None else [(fit.sessions, "session"), (fit.efforts, "effort")]
    return GameFiles(
        get_measure(store, measure),
        tuple((each, wave_lines(each.game, names)) for each in games),
        ", ".join(numbers.counted(*each) for each in evidence),
        get_setting(store, "club_name") or "",
        protocol_words.paced_line(
            protocol_of(store, get_measure(store, measure)),
            max(each.game.minutes_per_effort for each in games),
        ),
    )


def file_name(name: str, code: str) -> str:
    """Return a name that any file system takes; the code tells namesakes apart."""
    letters = "".join(letter if letter.isalnum() else " " for letter in name[:LONGEST_NAME])
    return "-".join([*letters.split(), quote(code, safe="")])


def phone_page(what: str, parts: Sequence[Mapping[str, object]]) -> bytes:
    """Return a page for a phone.

    Parameters
    ----------
    what
        What everybody does.
    parts
        One for each game or training: `title`, `occasion`, `regions` and `people`. People without
        a start have no times.
    """
    page = _phone_template().render(what=what, parts=parts, caution=cautions.CAUTION)
    return page.encode("utf-8")


@cache
def _phone_template() -> Template:
    return Template(PHONE.read_text(encoding="utf-8"), autoescape=True, trim_blocks=True)


def _game(
    game: Game, waves: Sequence[WaveLines], athlete: str | None, unit: str
) -> dict[str, object]:
    return {
        "title": f"{words.long_day(game.starts[0])}, {words.begins(game)}",
        "occasion": words.occasion_sentence(game, unit),
        "people": [
            _person(wave, line, unit)
            for wave in waves
            for line in wave.lines
            if athlete in (None, line.player.plan.athlete)
        ],
        "regions": " ".join(
            [
                prevention_words.sentence(game),
                words.REGION_ORDER,
                weather_words.air(game.ambient_c, planned=True),
            ]
        ),
    }


def _person(wave: WaveLines, line: Line, unit: str) -> dict[str, str]:
    prevention = prevention_words.minutes(line)
    by_hand = words.SET_BY_HAND if line.player.own_length else ""
    how = "; ".join(part for part in (by_hand, substitute_words.before_start(line)) if part)
    amount, noun = numbers.volume(line.volume, unit).split(" ", 1)
    return {
        "name": line.name,
        "prevention": numbers.number(prevention) if prevention else "",
        "general_from": words.clock(line.general_at),
        "begins": words.clock(line.begins_at),
        "general": f"{line.player.general_minutes:g}",
        "volume": amount,
        "unit": noun,
        "efforts_from": words.clock(line.efforts_at) if line.volume else "",
        "ready": words.clock(line.ready_at),
        "starts": words.clock(wave.starts_at),
        "how": numbers.capital(how),
        "bench": substitute_words.bench_words(line, wave, unit),
        "half_time": substitute_words.half_time_line(line, unit),
    }
