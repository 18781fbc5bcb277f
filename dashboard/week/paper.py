"""The week on paper: one A4 page, black on white."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from io import BytesIO
from xml.sax.saxutils import escape

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Frame, KeepInFrame, ListFlowable, Spacer

from dashboard.core import cautions
from dashboard.core.paper import BOLD, REGULAR, paragraph, register_fonts
from dashboard.week import words
from dashboard.week.report import Week, week_report
from dashboard.week.sections import Item, Section, week_label
from db.errors import BadInput
from db.file.settings import get_setting
from db.file.store import Store
from db.roster.measures import get_measure

MARGIN = 14 * mm
MOST_ITEMS = 8
SIZE = 9.5


def week_sheet(store: Store, measure: str, week: Week, against: Week) -> bytes:
    """Return the week as a PDF of one page; the same store, measure and weeks give the same bytes.

    Raises
    ------
    BadInput
        If there is no such measure, or it has no curves yet.
    """
    with store.reading():
        report = week_report(store, measure, week.first, against.first)
    if report is None:
        name = get_measure(store, measure).name.lower()
        raise BadInput(f"There are no curves of {name} yet. Work them out on the page Squad.")
    title = f"{report.measure.name}, {week_label(week)}"
    heading = (
        ". ".join(
            part
            for part in (
                get_setting(store, "club_name") or "",
                f"Against {week_label(against)}",
                words.headline(report),
            )
            if part
        )
        + "."
    )
    return drawn(title, heading, words.sections(report))


def drawn(title: str, heading: str, sections: tuple[Section, ...]) -> bytes:
    """Return sections as a PDF of one page; letters shrink until all of them fit on it."""
    register_fonts()
    target = BytesIO()
    canvas = Canvas(target, pagesize=A4, invariant=1)
    canvas.setTitle(title)
    width, height = A4[0] - 2 * MARGIN, A4[1] - 2 * MARGIN
    story = KeepInFrame(width, height, list(_story(title, heading, sections)), mode="shrink")
    Frame(MARGIN, MARGIN, width, height, *(0, 0, 0, 0)).addFromList([story], canvas)
    canvas.showPage()
    canvas.save()
    return target.getvalue()


def _story(title: str, heading: str, sections: tuple[Section, ...]) -> Iterator[Flowable]:
    yield paragraph(escape(title), 16, BOLD)
    yield Spacer(1, 1.5 * mm)
    yield paragraph(_markup(heading), SIZE)
    for section in sections:
        yield Spacer(1, 3 * mm)
        yield paragraph(escape(section.title), 1.2 * SIZE, BOLD)
        for sentence in section.says:
            yield paragraph(_markup(sentence), SIZE)
        if section.items:
            yield _listed(section.items)
    yield Spacer(1, 3 * mm)
    yield paragraph(f"<b>{cautions.CAUTION}</b> {escape(cautions.CAUTIONS[-1])}", SIZE)


def _listed(items: Sequence[Item]) -> Flowable:
    told = [
        f"<b>{escape(item.link.label)}</b>: {_markup(item.text)}" for item in items[:MOST_ITEMS]
    ]
    if (left := len(items) - MOST_ITEMS) > 0:
        told.append(f"and {left} more on the page This week")
    return ListFlowable(
        [paragraph(each, SIZE) for each in told],
        bulletType="bullet",
        start="\u2013",
        bulletFontName=REGULAR,
        bulletFontSize=SIZE,
        leftIndent=3.5 * mm,
    )


def _markup(text: str) -> str:
    """Return a sentence of a page with its bold parts as paper knows them."""
    return re.sub(r"\*\*(.+?)\*\*", r"<b>\1</b>", escape(text))
