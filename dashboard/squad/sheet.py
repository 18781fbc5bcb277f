"""The week on paper: the Squad page with its figure, and the week's sections on its back."""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO
from xml.sax.saxutils import escape

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Spacer, Table

from dashboard.core import cautions
from dashboard.core.numbers import percent
from dashboard.core.paper import BOLD, paragraph, register_fonts
from dashboard.fits.next_tests import listed_tests
from dashboard.fits.usual_terms import latest_fit, squad_worth
from dashboard.squad import words
from dashboard.squad.changed import changed_calls
from dashboard.squad.paper_figure import squad_drawing
from dashboard.squad.ranking import squad
from dashboard.tests.next_test_words import test_name
from dashboard.week.fit_moments import Week
from dashboard.week.paper import HEIGHT, SIZE, WIDTH, draw_page, markup, week_page
from db.errors import BadInput
from db.file.settings import get_setting
from db.file.store import Store
from db.fits.results import KeptFit
from db.roster.measures import Measure, get_measure

SHOWN = 3
"""How many athletes an answer names, as on the page."""
FIGURE_HEIGHT = HEIGHT - 92 * mm


def squad_sheet(store: Store, code: str, week: Week, against: Week) -> bytes:
    """Return the squad and the week as a PDF of two pages; the same store gives the same bytes.

    Raises
    ------
    BadInput
        If there is no such measure, or it has no curves yet.
    """
    register_fonts()
    target = BytesIO()
    canvas = Canvas(target, pagesize=A4, invariant=1)
    with store.reading():
        measure, fit = get_measure(store, code), latest_fit(store, code)
        if fit is None:
            raise BadInput(
                f"There are no curves of {measure.name.lower()} yet. Work them out on the page"
                " Squad."
            )
        canvas.setTitle(f"Squad, {measure.name.lower()}, {week.first}")
        draw_page(canvas, _squad_story(store, measure, fit))
        week_page(canvas, store, code, week, against)
    canvas.save()
    return target.getvalue()


def _squad_story(store: Store, measure: Measure, fit: KeptFit) -> Iterator[Flowable]:
    rows = squad(store, measure.code)
    club = get_setting(store, "club_name") or ""
    yield paragraph(escape(". ".join(filter(None, (club, f"Squad, {measure.name.lower()}")))), SIZE)
    yield Spacer(1, 1.5 * mm)
    yield paragraph(escape(words.squad_headline(rows, fit.standard_volume)), 16, BOLD)
    yield Spacer(1, 1 * mm)
    yield paragraph(escape(words.rest_sentence(rows, fit, measure.volume_unit)), SIZE)
    if own := words.own_lengths_sentence(rows):
        yield paragraph(markup(own), SIZE)
    yield Spacer(1, 3 * mm)
    answers = [list(_answer(*each)) for each in _answers(store, measure, fit)]
    yield Table([answers], colWidths=[WIDTH / len(answers)] * len(answers), style=FRAMED)
    yield Spacer(1, 3 * mm)
    yield paragraph(escape(words.how_to_read_squad(fit)), 0.9 * SIZE)
    yield paragraph(f"<b>{escape(words.reading_rule(fit))}</b>", SIZE)
    yield Spacer(1, 2 * mm)
    yield squad_drawing(rows, fit.standard_volume, measure.volume_unit, WIDTH, FIGURE_HEIGHT)
    yield paragraph(f"<b>{cautions.CAUTION}</b>", SIZE)


FRAMED = [
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("BOX", (0, 0), (-1, -1), 0.5, "#5D6B79"),
    ("INNERGRID", (0, 0), (-1, -1), 0.5, "#5D6B79"),
]


def _answers(
    store: Store, measure: Measure, fit: KeptFit
) -> Iterator[tuple[str, tuple[str, str], list[str]]]:
    """Yield the three answers of the page: the question, the answer, and who is named."""
    worth = words.worth_answer(squad_worth(store, measure.code), fit)
    yield "Are own lengths worth it?", worth, []
    changed = changed_calls(store, measure.code)
    calls = [words.changed_call(row) for row in changed.calls.head(SHOWN).to_dict("records")]
    yield "What changed this week?", words.changed_answer(changed), calls
    tests = listed_tests(store, measure.code)
    worthy = tests[tests["worth_pct"] >= fit.worthwhile_pct]
    named = [
        f"{row['name']}: {test_name(row, measure.volume_unit)}, {percent(row['worth_pct'])}"
        for row in worthy.head(SHOWN).to_dict("records")
    ]
    yield "What to test next?", words.tests_answer(tests, worthy, fit), named


def _answer(question: str, answer: tuple[str, str], named: list[str]) -> Iterator[Flowable]:
    yield paragraph(escape(question), 0.9 * SIZE)
    yield paragraph(escape(answer[0]), 1.3 * SIZE, BOLD)
    for told in (answer[1], *named):
        yield paragraph(escape(told), 0.9 * SIZE)
