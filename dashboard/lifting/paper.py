"""A session plan on paper: A4, black on white, with room to tick."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from io import BytesIO
from xml.sax.saxutils import escape

import pandas as pd
from reportlab.graphics.shapes import Drawing, Rect
from reportlab.lib import colors
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.platypus import (
    Flowable,
    KeepTogether,
    SimpleDocTemplate,
    Spacer,
    Table,
    TableStyle,
)

from dashboard.core import cautions
from dashboard.core.paper import BOLD, REGULAR, paragraph, register_fonts
from dashboard.lifting import words
from dashboard.lifting.parts import ExercisePart, SessionParts, session_parts
from dashboard.rules.test_days import athlete_days
from db.file.store import Store
from db.roster.athletes import list_athletes

MARGIN = 15 * mm
FRAME_PADDING = 6.0  # reportlab's own, inside the margins
WIDTH = A4[0] - 2 * MARGIN
GENERAL_MM = (34, 18, 43, 43, 42)
SET_MM = {"set": 34, "each side": 64, "done": 16}
TICK_MM = 5
GRID = TableStyle(
    [
        ("FONT", (0, 0), (-1, -1), REGULAR, 10.5),
        ("FONT", (0, 0), (-1, 0), REGULAR, 8.5),
        ("LINEBELOW", (0, 0), (-1, 0), 1, colors.black),
        ("LINEBELOW", (0, 1), (-1, -1), 0.3, colors.grey),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
    ]
)


def session_sheet(store: Store, number: int) -> bytes:
    """Return a saved plan as a PDF; the same plan gives the same bytes.

    Raises
    ------
    BadInput
        If there is no such plan.
    """
    session = session_parts(store, number)
    people = list_athletes(store)
    names = dict(zip(people["athlete"], people["name"], strict=True))
    active = people.loc[people["active"], "athlete"]
    around = words.around(session.plan, athlete_days(store), active)
    return drawn(session, words.whom(session.plan, names, around))


def drawn(session: SessionParts, whom: str) -> bytes:
    """Return a worked-out plan as a PDF."""
    register_fonts()
    target = BytesIO()
    plan = session.plan
    title = f"{plan.name}, {plan.day:%A} {plan.day.day} {plan.day:%B %Y}"
    document = SimpleDocTemplate(
        target,
        pagesize=A4,
        title=title,
        invariant=1,
        **dict.fromkeys(
            ("leftMargin", "rightMargin", "topMargin", "bottomMargin"), MARGIN - FRAME_PADDING
        ),
    )
    document.build(list(_story(session, title, whom)))
    return target.getvalue()


def _story(session: SessionParts, title: str, whom: str) -> Iterator[Flowable]:
    yield paragraph(escape(title), 16, BOLD)
    yield paragraph(escape(whom), 11)
    yield Spacer(1, 4 * mm)
    if session.general is not None:
        yield paragraph(f"General part, {session.plan.general_minutes:g} minutes", 13, BOLD)
        yield _general(words.general_table(session))
        yield from _notes(session.general.cautions)
    for place, part in enumerate(session.parts, start=1):
        yield KeepTogether(list(_exercise(place, part, session.plan.load_unit)))
    yield Spacer(1, 3 * mm)
    yield from _notes([*session.remarks, *words.curve_sentences(session)])
    yield KeepTogether(list(_readiness()))


def _general(table: pd.DataFrame) -> Table:
    rows: list[list[object]] = [
        list(table.columns),
        *([paragraph(cell, 9) for cell in row] for row in table.values),
    ]
    return Table(rows, [width * mm for width in GENERAL_MM], style=GRID, hAlign="LEFT")


def _exercise(place: int, part: ExercisePart, unit: str) -> Iterator[Flowable]:
    yield Spacer(1, 5 * mm)
    work = escape(words.work_sentence(part.planned, unit))
    yield paragraph(
        f'{place}. {escape(part.name)} <font name="{REGULAR}" size="11">{work}</font>', 13, BOLD
    )
    yield paragraph(escape(words.own_sentence(part).replace("**", "")), 10)
    table = words.ramp_table(part, unit)
    if not table.empty:
        rows = [[*table.columns, "done"], *([*row, _box()] for row in table.values.tolist())]
        yield Table(
            rows, [SET_MM.get(title, 22) * mm for title in rows[0]], style=GRID, hAlign="LEFT"
        )
    yield from _notes(words.part_sentences(part, unit))


def _readiness() -> Iterator[Flowable]:
    yield Spacer(1, 6 * mm)
    yield paragraph("Before the first working set", 13, BOLD)
    rows = [[_box(), paragraph(text, 11)] for text in words.READINESS.values()]
    yield Table(rows, [10 * mm, WIDTH - 10 * mm], style=[("LEFTPADDING", (0, 0), (0, -1), 0)])
    yield paragraph(words.NOT_YET, 10)
    yield Spacer(1, 3 * mm)
    yield paragraph(
        f"<b>{escape(words.HEAVY_CAUTION)}</b> {escape(' '.join(cautions.CAUTIONS[2:]))}",
        8.5,
    )


def _notes(sentences: Iterable[str]) -> Iterator[Flowable]:
    for sentence in sentences:
        yield paragraph(escape(sentence), 9)


def _box() -> Drawing:
    side = TICK_MM * mm
    return Drawing(side, side, Rect(0, 0, side, side, fillColor=None, strokeWidth=1))
