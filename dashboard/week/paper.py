"""The sections of the week on paper: one A4 page, black on white."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from xml.sax.saxutils import escape

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Frame, KeepInFrame, ListFlowable, Spacer

from dashboard.core import cautions
from dashboard.core.paper import BOLD, REGULAR, paragraph
from dashboard.week import words
from dashboard.week.fit_moments import Week
from dashboard.week.report import week_report
from dashboard.week.sections import Item, Section, week_label
from db.file.settings import get_setting
from db.file.store import Store

MARGIN = 14 * mm
WIDTH, HEIGHT = A4[0] - 2 * MARGIN, A4[1] - 2 * MARGIN
MOST_ITEMS = 8
SIZE = 9.5


def week_page(canvas: Canvas, store: Store, measure: str, week: Week, against: Week) -> None:
    """Draw the week of a measure on a page of its own; no page if it has no curves yet."""
    report = week_report(store, measure, week.first, against.first)
    if report is None:
        return
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
    draw_page(canvas, week_story(title, heading, words.sections(report)))


def draw_page(canvas: Canvas, story: Iterable[Flowable]) -> None:
    """Draw a page, and shrink what is on it until it fits."""
    kept = KeepInFrame(WIDTH, HEIGHT, list(story), mode="shrink")
    Frame(MARGIN, MARGIN, WIDTH, HEIGHT, *(0, 0, 0, 0)).addFromList([kept], canvas)
    canvas.showPage()


def week_story(title: str, heading: str, sections: tuple[Section, ...]) -> Iterator[Flowable]:
    """Yield a title, the line under it, and sections with at most `MOST_ITEMS` items each."""
    yield paragraph(escape(title), 16, BOLD)
    yield Spacer(1, 1.5 * mm)
    yield paragraph(markup(heading), SIZE)
    for section in sections:
        yield Spacer(1, 3 * mm)
        yield paragraph(escape(section.title), 1.2 * SIZE, BOLD)
        for sentence in section.says:
            yield paragraph(markup(sentence), SIZE)
        if section.items:
            yield _listed(section.items)
    yield Spacer(1, 3 * mm)
    yield paragraph(f"<b>{cautions.CAUTION}</b> {escape(cautions.CAUTIONS[-1])}", SIZE)


def _listed(items: Sequence[Item]) -> Flowable:
    told = [f"<b>{escape(item.link.label)}</b>: {markup(item.text)}" for item in items[:MOST_ITEMS]]
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


def markup(text: str) -> str:
    """Turn the bold parts of a page's sentence into markup for paper, and escape the rest."""
    return re.sub(r"\*\*(.+?)\*\*", r"<b>\1</b>", escape(text))
