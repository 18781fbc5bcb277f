"""The printed sheet of a game's warm-up: one landscape A4 page, black on white.

The waves are at the top, counted back from the start, with their athletes in columns below. The
letters are as large as they can be with everybody on one page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from io import BytesIO
from xml.sax.saxutils import escape

from reportlab.lib.pagesizes import A4, landscape
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from dashboard.core import cautions, numbers
from dashboard.core.paper import BOLD, REGULAR, place_text, register_fonts
from dashboard.game import prevention_words, words
from dashboard.game.blocks import sheet_blocks
from dashboard.game.columns import draw_columns
from dashboard.game.lines import WaveLines
from dashboard.rules import weather_words
from db.plans.games import Game

WIDTH, HEIGHT = landscape(A4)
MARGIN = 11 * mm
TITLE_HEIGHT = 17 * mm
AXIS_HEIGHT = 6 * mm
BAND_HEIGHT = 6.4 * mm
LEAST_BAND_HEIGHT = 2.5 * mm
MOST_BANDS_HEIGHT = 45 * mm
FOOT_HEIGHT = 17 * mm
LABEL_WIDTH = 62 * mm
AXIS_STEPS = (5, 10, 15, 30, 60)
MOST_TICKS = 14


@dataclass(frozen=True)
class GameHeading:
    """What a game's sheet shows besides the game itself.

    Attributes
    ----------
    measure_name, volume_unit : str
    evidence : str
        What the curves are based on, such as `34 sessions, 812 efforts`; empty without any.
    team : str
        Empty if the team has no name.
    """

    measure_name: str
    volume_unit: str
    evidence: str = ""
    team: str = ""


def game_sheet(games: Sequence[tuple[Game, tuple[WaveLines, ...]]], heading: GameHeading) -> bytes:
    """Return the sheet as a PDF, a page for each game; the same plan gives the same bytes.

    Parameters
    ----------
    games
        Each with its waves from `dashboard.game.lines.wave_lines`, all of one day and measure:
        one game, unless the day has two, or squads have planned separately.
    heading
        What else the sheet shows.
    """
    register_fonts()
    target = BytesIO()
    canvas = Canvas(target, pagesize=(WIDTH, HEIGHT), invariant=1)
    canvas.setTitle(f"Warm-up, {words.long_day(games[0][0].starts[0])}")
    for game, waves in games:
        _draw_page(canvas, game, waves, heading)
        canvas.showPage()
    canvas.save()
    return target.getvalue()


def _draw_page(
    canvas: Canvas, game: Game, waves: tuple[WaveLines, ...], heading: GameHeading
) -> None:
    unit = heading.volume_unit
    top = min(_draw_title(canvas, game, waves, heading), HEIGHT - MARGIN - TITLE_HEIGHT)
    band = max(LEAST_BAND_HEIGHT, min(BAND_HEIGHT, MOST_BANDS_HEIGHT / len(waves)))
    _draw_bands(canvas, waves, unit, top, band)
    _draw_foot(canvas, game, waves)
    below = top - AXIS_HEIGHT - band * len(waves) - 3 * mm
    bottom = MARGIN + FOOT_HEIGHT
    room = (MARGIN, bottom, WIDTH - 2 * MARGIN, below - bottom)
    draw_columns(canvas, sheet_blocks(game, waves, unit), *room)


def _draw_title(
    canvas: Canvas, game: Game, waves: tuple[WaveLines, ...], heading: GameHeading
) -> float:
    """Draw the title and what the plan is for; return the height at which they end."""
    top = HEIGHT - MARGIN
    title = f"{words.long_day(game.starts[0])}, {words.begins(game)}"
    team = stringWidth(heading.team, REGULAR, 11)
    size = min(20.0, 20.0 * (WIDTH - 2 * MARGIN - team - 20) / stringWidth(title, BOLD, 20))
    canvas.setFont(BOLD, size)
    canvas.drawString(MARGIN, top - 6 * mm, title)
    canvas.setFont(REGULAR, 11)
    canvas.drawRightString(WIDTH - MARGIN, top - 6 * mm, heading.team)
    told = (
        f"{heading.measure_name}. {words.occasion_sentence(game, heading.volume_unit)}"
        f" {words.headline(waves)}."
    )
    return place_text(canvas, escape(told), 10.5, MARGIN, top - 8 * mm, WIDTH - 2 * MARGIN)


def _draw_bands(
    canvas: Canvas, waves: tuple[WaveLines, ...], unit: str, top: float, height: float
) -> None:
    """Draw a bar for each wave: prevention grey, the general part white, the efforts black."""
    axis = _Axis.of(waves)
    bottom = top - AXIS_HEIGHT - height * len(waves)
    canvas.setFont(REGULAR, 9)
    for moment in axis.ticks():
        canvas.setStrokeGray(0.75)
        canvas.setLineWidth(0.5)
        canvas.line(axis.at(moment), bottom, axis.at(moment), top - AXIS_HEIGHT + 1)
        canvas.drawCentredString(axis.at(moment), top - 4 * mm, words.clock(moment))
    size = min(11.0, height * 0.62)
    for place, wave in enumerate(waves):
        low = top - AXIS_HEIGHT - height * (place + 1)
        bar, thick = low + 0.2 * height, 0.6 * height
        canvas.setFont(BOLD, size)
        told = numbers.volume(wave.volume, unit)
        canvas.drawString(
            MARGIN, bar + 0.12 * height, f"{words.clock(wave.begins_at)}  wave {wave.wave}"
        )
        canvas.setFont(REGULAR, size)
        canvas.drawRightString(MARGIN + LABEL_WIDTH - 4 * mm, bar + 0.12 * height, told)
        canvas.setStrokeGray(0)
        canvas.setLineWidth(1)
        begins, general = axis.at(wave.begins_at), axis.at(wave.general_at)
        efforts = axis.at(wave.efforts_at)
        ready, starts = axis.at(wave.ready_at), axis.at(wave.starts_at)
        canvas.line(axis.at(wave.first_at), bar + thick / 2, begins, bar + thick / 2)
        canvas.setFillGray(0.7)
        canvas.rect(begins, bar, general - begins, thick, stroke=1, fill=1)
        canvas.setFillGray(0)
        canvas.rect(general, bar, efforts - general, thick, stroke=1, fill=0)
        canvas.rect(efforts, bar, ready - efforts, thick, stroke=1, fill=1)
        canvas.setDash(1, 2)
        canvas.line(ready, bar + thick / 2, starts, bar + thick / 2)
        canvas.setDash()
        canvas.setLineWidth(3)
        canvas.line(starts, low, starts, low + height)


@dataclass(frozen=True)
class _Axis:
    """The time axis to the right of the labels, from the first beginning to the last start."""

    begins: datetime
    ends: datetime

    @classmethod
    def of(cls, waves: tuple[WaveLines, ...]) -> _Axis:
        begins = min(wave.first_at for wave in waves)
        return cls(
            begins, max(max(wave.starts_at for wave in waves), begins + timedelta(minutes=5))
        )

    def at(self, moment: datetime) -> float:
        left, right = MARGIN + LABEL_WIDTH, WIDTH - MARGIN - 6 * mm
        return left + (right - left) * ((moment - self.begins) / (self.ends - self.begins))

    def ticks(self) -> list[datetime]:
        """Return round times of day for the axis, but not too many."""
        minutes = (self.ends - self.begins).total_seconds() / 60.0
        step = next((each for each in AXIS_STEPS if minutes / each <= MOST_TICKS), AXIS_STEPS[-1])
        day = self.begins.replace(hour=0, minute=0)
        first = -(-(self.begins - day).total_seconds() // (60 * step))
        moments = []
        moment = day + timedelta(minutes=first * step)
        while moment <= self.ends:
            moments.append(moment)
            moment += timedelta(minutes=step)
        return moments


def _draw_foot(canvas: Canvas, game: Game, waves: tuple[WaveLines, ...]) -> None:
    told = " ".join(
        part
        for part in (
            prevention_words.sentence(game),
            words.REGION_ORDER,
            weather_words.air(game.ambient_c, planned=True),
            words.grouping_sentence(game),
            words.gap_sentence(waves),
            words.gap_caution(game),
        )
        if part
    )
    text = f"<b>{cautions.CAUTION}</b> {escape(told)}"
    place_text(canvas, text, 8.5, MARGIN, MARGIN + FOOT_HEIGHT - 3 * mm, WIDTH - 2 * MARGIN)
