"""The figure of the squad on paper: the same rows, marks and columns as on the screen."""

from __future__ import annotations

from collections.abc import Callable
from math import isnan

import pandas as pd
from reportlab.graphics.shapes import Circle, Drawing, Group, Line, Polygon, Rect, String
from reportlab.lib.colors import Color, HexColor
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth

from dashboard.core.figures import VOLUME_TICKS, spaced
from dashboard.core.numbers import Row, number, percent
from dashboard.core.palette import LIGHT
from dashboard.core.paper import BOLD, REGULAR
from dashboard.squad.chart import placed

Axis = Callable[[float], float]
"""Turns a volume into a distance from the left."""

HEAD, FOOT = 7 * mm, 10 * mm
MOST_ROW = 6.2 * mm
COLUMNS = {"call": 22 * mm, "length": 15 * mm, "lost at standard": 28 * mm}
"""Widths of the columns at the right; their texts are aligned right."""
GAP = 3 * mm
TEXT = 0.55
"""Font size as a share of the row height."""
GOOD_SHARE = 0.28
"""Opacity of the bar of the good range, as on the screen."""


def squad_drawing(
    responses: pd.DataFrame, standard: float, unit: str, width: float, height: float
) -> Drawing:
    """Draw every athlete's good range and best volume, longest at the top, in three groups.

    Parameters
    ----------
    responses : DataFrame
        As `dashboard.squad.chart.squad_figure` takes them.
    standard : float
        The volume that the team does today, in `unit`.
    unit : str
        Volume unit in words.
    width, height : float
        The room there is, in points; rows are as high as it allows, up to 6.2 mm.
    """
    rows, headings = placed(responses, standard, narrow=False)
    many = len(rows) + len(headings)
    row = min(MOST_ROW, (height - HEAD - FOOT) / many)
    size = TEXT * row
    names = [*rows["name"], *headings.values()]
    left = max(stringWidth(name, BOLD, size) for name in names) + GAP
    right = width - sum(COLUMNS.values())
    most = max(float(rows["best_volume_high"].max()), standard)
    scale = (right - left - GAP) / float(spaced(most * 1.08))
    drawing = Drawing(width, HEAD + FOOT + many * row)

    def x(volume: float) -> float:
        return left + scale * float(spaced(volume))

    def y(at: float) -> float:
        return FOOT + (at + 0.5) * row

    _draw_axis(drawing, x, right, y(-0.5), y(many - 0.5), most, unit, size)
    at_standard = Line(x(standard), y(-0.5), x(standard), y(many - 0.5))
    at_standard.strokeColor, at_standard.strokeDashArray = HexColor(LIGHT.volume), [3, 2]
    drawing.add(at_standard)
    _write(drawing, x(standard), y(many - 0.2), f"standard {number(standard)}", size, "middle")
    edge = right
    for name, room in COLUMNS.items():
        edge += room
        _write(drawing, edge, y(many - 0.2), name, size, "end")
    for at, heading in headings.items():
        _write(drawing, 0, y(at) - 0.35 * size, heading, size, "start", BOLD)
    for athlete in rows.to_dict("records"):
        middle = y(athlete["at"])
        _write(drawing, 0, middle - 0.35 * size, athlete["name"], size, "start")
        drawing.add(_marks(athlete, x, middle, row))
        edge = right
        for room, (told, font) in zip(COLUMNS.values(), _cells(athlete), strict=True):
            edge += room
            _write(drawing, edge, middle - 0.35 * size, told, size, "end", font)
    return drawing


def _draw_axis(
    drawing: Drawing,
    x: Axis,
    right: float,
    bottom: float,
    top: float,
    most: float,
    unit: str,
    size: float,
) -> None:
    for tick in [each for each in VOLUME_TICKS if each <= most * 1.08]:
        at = x(tick)
        drawing.add(Line(at, bottom, at, top, strokeColor=HexColor(LIGHT.grid), strokeWidth=0.5))
        _write(drawing, at, bottom - 1.3 * size, str(tick), size, "middle")
    _write(drawing, right - GAP, bottom - 2.6 * size, unit, size, "end")


def _cells(row: Row) -> tuple[tuple[str, str], ...]:
    away = row["call"] in ("short", "long")
    length = "none" if isnan(row["length"]) else number(row["length"])
    return (
        (row["call"], BOLD if away else REGULAR),
        (length, BOLD),
        (percent(row["loss_at_standard_pct"]), REGULAR),
    )


def _marks(row: Row, at: Axis, y: float, high: float) -> Group:
    """Return the good range as a bar, 90 % of the best as a line, then the mark."""
    colour = HexColor(LIGHT.call(row["call"]))
    pale = Color(colour.red, colour.green, colour.blue, GOOD_SHARE)
    group = Group()
    if not pd.isna(row["good_from"]):
        start, end = at(row["good_from"]), at(row["good_to"])
        bar = Rect(start, y - 0.28 * high, end - start, 0.56 * high, strokeWidth=0.4)
        bar.fillColor, bar.strokeColor = pale, colour
        group.add(bar)
    low, best, top = (at(row[f"best_volume{end}"]) for end in ("_low", "", "_high"))
    group.add(Line(low, y, top, y, strokeColor=colour, strokeWidth=1))
    group.add(_mark(row["call"], best, y, 0.2 * high, colour))
    return group


def _mark(call: str, x: float, y: float, size: float, colour: Color) -> Polygon | Circle:
    if call in ("long", "short"):
        tip = 1.3 * size if call == "long" else -1.3 * size
        mark = Polygon([x + tip, y, x - tip, y + 1.3 * size, x - tip, y - 1.3 * size])
    else:
        mark = Circle(x, y, size)
    mark.strokeColor, mark.strokeWidth = colour, 1
    mark.fillColor = HexColor(LIGHT.background) if call == "not known" else colour
    return mark


def _write(
    drawing: Drawing, x: float, y: float, text: str, size: float, anchor: str, font: str = REGULAR
) -> None:
    drawing.add(
        String(
            x, y, text, fontName=font, fontSize=size, textAnchor=anchor,
            fillColor=HexColor(LIGHT.text),
        )
    )  # fmt: skip
