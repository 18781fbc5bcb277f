"""The printed warm-up sheet: A4, black on white, legible at arm's length."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from io import BytesIO
from textwrap import shorten
from xml.sax.saxutils import escape

import pandas as pd
from reportlab.graphics.shapes import Drawing, Rect
from reportlab.lib import colors
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate, Table, TableStyle

from dashboard.core import cautions, numbers
from dashboard.core.palette import CALLS
from dashboard.core.paper import BOLD, REGULAR, paragraph, place_text, register_fonts
from dashboard.game.prevention_words import PREVENTION
from dashboard.game.substitute_words import FILLED_UP
from dashboard.game.words import SET_BY_HAND, long_day
from dashboard.rules.protocol_words import BUILD_UP

MARGIN = 15 * mm
TITLE_HEIGHT = 26 * mm
CAUTION_HEIGHT = 20 * mm
LARGE_LETTERS = 170
"""This many characters fit into two lines; longer text is set smaller."""
COLUMNS_MM = (72, 24, 20, 38, 26)
NO_CURVES = "No curves yet: lengths set by the coach alone."
LONGEST_NAME = 80
GROUPS = {
    "long": "Long: still getting better at the standard",
    "either": "Either: near the standard is near the best",
    "not known": "Not known yet: the coach decides",
    "short": "Short: past the best by the standard",
}


@dataclass(frozen=True)
class SheetHeading:
    """What is at the top of every page of a sheet.

    Attributes
    ----------
    day
        Day of the session.
    what
        Measure and effort, such as `Jump height: maximal jumps, 15 s between two`.
    volume_unit
        Unit of every volume on the sheet, such as `efforts`.
    goal
        What the warm-up is for, such as `one best effort`.
    evidence
        What the curves are based on, such as `34 sessions, 812 efforts`; empty without any.
    team
        Name of the team; empty if it has none.
    around
        Place of the day between games, such as `MD-2`; empty if none is near.
    """

    day: date
    what: str
    volume_unit: str
    goal: str
    evidence: str
    team: str = ""
    around: str = ""


def warm_up_sheet(rows: pd.DataFrame, heading: SheetHeading) -> bytes:
    """Return the sheet as a PDF; the same rows and heading give the same bytes.

    Parameters
    ----------
    rows
        One row per athlete: `athlete, name, position, advised_volume, chosen_volume,
        standard_volume, call`. Volumes in `heading.volume_unit`; `chosen_volume` is
        missing where the coach has set none; the athlete's own length is shown instead.
    heading
        What is at the top of every page.
    """
    register_fonts()
    _, pages = _drawn(rows, heading, pages=0)
    content, _ = _drawn(rows, heading, pages)
    return content


def _drawn(rows: pd.DataFrame, heading: SheetHeading, pages: int) -> tuple[bytes, int]:
    """Return the PDF, with this page count printed on it, and how many pages it really has."""
    target = BytesIO()
    title = f"Warm-up, {long_day(heading.day)}"
    document = BaseDocTemplate(target, pagesize=A4, title=title, invariant=1)
    document.addPageTemplates(_page(heading, pages))
    document.build([_table(rows, heading.volume_unit)])
    return target.getvalue(), document.page


def _page(heading: SheetHeading, pages: int) -> PageTemplate:
    """Return the page template: heading on top, cautions at the foot, the table between."""
    frame = Frame(
        MARGIN,
        MARGIN + CAUTION_HEIGHT,
        A4[0] - 2 * MARGIN,
        A4[1] - 2 * MARGIN - TITLE_HEIGHT - CAUTION_HEIGHT,
        *(0, 0, 0, 0),
    )
    return PageTemplate(frames=[frame], onPage=lambda canvas, _: _dress(canvas, heading, pages))


def _dress(canvas: Canvas, heading: SheetHeading, pages: int) -> None:
    """Draw what every page carries: title, goal, evidence and cautions."""
    width = A4[0] - 2 * MARGIN
    top = A4[1] - MARGIN
    around = f", {heading.around}" if heading.around else ""
    title = f"Warm-up, {long_day(heading.day)}{around}"
    canvas.setFont(BOLD, min(18.0, 18.0 * (width - 25 * mm) / stringWidth(title, BOLD, 18)))
    canvas.drawString(MARGIN, top - 5 * mm, title)
    canvas.setFont(REGULAR, 10)
    number = f"page {canvas.getPageNumber()} of {pages}"
    canvas.drawRightString(A4[0] - MARGIN, top - 4 * mm, number)
    goal = f"{heading.what}. Warm up for {heading.goal}. Volumes in {heading.volume_unit}."
    told = f"{heading.team}. {goal}" if heading.team else goal
    size = 11 if len(told) <= LARGE_LETTERS else 8
    place_text(canvas, escape(told), size, MARGIN, top - 8 * mm, width)
    evidence = f"Curves from {heading.evidence}." if heading.evidence else NO_CURVES
    place_text(canvas, escape(evidence), 9, MARGIN, top - 18 * mm, width)
    told = f"<b>{PREVENTION} {BUILD_UP} {cautions.CAUTION}</b> {' '.join(cautions.CAUTIONS[1:])}"
    place_text(canvas, told, 8.5, MARGIN, MARGIN + CAUTION_HEIGHT - 4 * mm, width)


def _table(rows: pd.DataFrame, unit: str) -> Table:
    """Return the table of athletes: a titled group for each call, long first."""
    lines: list[list[object]] = [["athlete", f"do ({unit})", "standard", "how", "done"]]
    styles: list[tuple[object, ...]] = list(_STYLE)
    for call, group in _groups(rows):
        at = len(lines)
        lines.append([paragraph(GROUPS[call], 11, BOLD), "", "", "", ""])
        styles += [
            ("SPAN", (0, at), (-1, at)),
            ("TOPPADDING", (0, at), (-1, at), 9),
            ("LINEBELOW", (0, at), (-1, at), 1, colors.black),
            ("NOSPLIT", (0, at), (-1, at + 1)),
        ]
        lines += [_line(row) for row in group.to_dict("records")]
    widths = [column * mm for column in COLUMNS_MM]
    return Table(lines, widths, repeatRows=1, style=TableStyle(styles))


_STYLE = (
    ("FONT", (0, 0), (-1, 0), REGULAR, 9),
    ("FONT", (1, 1), (1, -1), BOLD, 18),
    ("FONT", (2, 1), (2, -1), REGULAR, 12),
    ("ALIGN", (1, 0), (2, -1), "RIGHT"),
    ("ALIGN", (4, 0), (4, -1), "CENTER"),
    ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
    ("LINEBELOW", (0, 0), (-1, 0), 1, colors.black),
    ("LINEBELOW", (0, 1), (-1, -1), 0.3, colors.grey),
    ("LEFTPADDING", (0, 0), (0, -1), 0),
    ("RIGHTPADDING", (2, 0), (2, -1), 12),
    ("TOPPADDING", (0, 1), (-1, -1), 3),
    ("BOTTOMPADDING", (0, 1), (-1, -1), 5),
)


def _groups(rows: pd.DataFrame) -> Iterator[tuple[str, pd.DataFrame]]:
    """Yield each call with its athletes, the longest first, then by name."""
    to_do = rows["chosen_volume"].fillna(rows["advised_volume"]).astype(float)
    told = rows.fillna({"position": ""}).assign(to_do=to_do)
    ordered = told.sort_values(["to_do", "name"], ascending=[False, True], kind="stable")
    for call in CALLS:
        group = ordered[ordered["call"] == call]
        if not group.empty:
            yield call, group


def _line(row: numbers.Row) -> list[object]:
    """Return one athlete's cells: name with position, volume to do, standard, reason, room."""
    name = shorten(row["name"], LONGEST_NAME, placeholder=" …")
    unbroken = escape(row["position"]).replace(" ", "\u00a0")
    position = f'<font name="{REGULAR}" size="9">{unbroken}</font>'
    return [
        paragraph(f"{escape(name)} {position}", 14, BOLD),
        numbers.number(row["to_do"]),
        numbers.number(row["standard_volume"]),
        paragraph(escape(how(row)), 9.5),
        _box(),
    ]


def _box() -> Drawing:
    """Return a box in which to write or tick what was done."""
    width, height = (COLUMNS_MM[-1] - 4) * mm, 8 * mm
    return Drawing(width, height, Rect(0, 0, width, height, fillColor=None, strokeWidth=1))


def how(row: numbers.Row) -> str:
    """Return whether this is as advised, and what was; the coach's reason stays private."""
    if row["to_do"] == row["advised_volume"]:
        usual = "the standard" if row["to_do"] == row["standard_volume"] else "own length"
        return f"{usual}, {FILLED_UP}" if row["filled_up"] else usual
    return f"{SET_BY_HAND} (own length {numbers.number(row['advised_volume'])})"
