"""The director's week: what it compares, its words, its page and its sheet."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pandas as pd
import pypdfium2
import pytest
from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas

from dashboard.core.numbers import percent
from dashboard.core.paper import register_fonts
from dashboard.squad.paper_figure import squad_drawing
from dashboard.squad.ranking import squad
from dashboard.squad.sheet import FIGURE_HEIGHT, squad_sheet
from dashboard.week import curve_words, words
from dashboard.week.fit_moments import FitMoment, Week, calls_between, newest_at_end
from dashboard.week.paper import WIDTH, draw_page, week_story
from dashboard.week.report import WeekReport, known_weeks, newest_week, week_levels, week_report
from dashboard.week.sections import Item, Link, Section, week_label
from db.errors import BadInput
from db.file.store import Store
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.plans.lengths import PlanEntry, save_choice
from db.plans.outcomes import Outcome, record_outcomes
from tests.dashboard.artificial import ATHLETES
from tests.dashboard.conftest import SignIn, keep_artificial_fit, told

MONDAY = date(2026, 3, 9)
WEEK = Week(MONDAY)
LATER = {**ATHLETES, "A4": ("Unknown Four", "centre", "long", 60.0, 2)}
LATER["A2"] = ("Short Two", "wing", "short", 7.0, 6)


@pytest.fixture
def planned_store(filled_store: Store) -> Store:
    """Two fits, one by the end of each week, and four plans, three of them recorded."""
    with filled_store.kept_open():
        keep_artificial_fit(filled_store, LATER)
        with filled_store.writing("test", "move the fits into the weeks") as cursor:
            cursor.execute("UPDATE fit SET fitted_at = '2026-03-08 20:00:00+00' WHERE fit_id = 1")
            cursor.execute("UPDATE fit SET fitted_at = '2026-03-15 20:00:00+00' WHERE fit_id = 2")
        day, done = date(2026, 3, 10), {"A1": 40.0, "A2": 3.0, "A3": 0.0, "A4": None}
        for code, volume in done.items():
            plan = PlanEntry(day, code, "jump_height", "best", 1, 40.0, 15.0, 40.0)
            outcome = Outcome(save_choice(filled_store, plan, "test"), volume)
            record_outcomes(filled_store, [outcome], "test")
    return filled_store


def report_of(store: Store, week: date = MONDAY, against: date = WEEK.before.first) -> WeekReport:
    with store.reading():
        found = week_report(store, "jump_height", week, against)
    assert found is not None
    return found


def section_of(report: WeekReport, start: str) -> tuple[str, dict[str, str]]:
    """What a section says, and its items by the label of their links."""
    [section] = [each for each in words.sections(report) if each.title.startswith(start)]
    said = " ".join(section.says).replace("\u00a0", " ")
    return said, {each.link.label: each.text.replace("\u00a0", " ") for each in section.items}


def test_a_week_goes_from_monday_to_sunday() -> None:
    assert Week.of(date(2026, 3, 15)) == Week.of(MONDAY) == WEEK
    assert (WEEK.last, WEEK.before.last) == (date(2026, 3, 15), date(2026, 3, 8))
    assert week_label(WEEK) == "9 Mar to 15 Mar 2026"
    assert week_label(Week.of(date(2026, 1, 1))) == "29 Dec 2025 to 4 Jan 2026"


def test_weeks_reach_from_the_first_session_to_today(shown_store: Store) -> None:
    weeks = known_weeks(shown_store, "jump_height", date(2026, 3, 25))
    assert [each.first.day for each in weeks] == [23, 16, 9]
    assert newest_week(shown_store, "jump_height", date(2026, 3, 25)) == WEEK
    assert known_weeks(shown_store, "throw_speed", MONDAY) == [WEEK]


def test_a_week_uses_the_newest_fit_by_its_end() -> None:
    kept = [FitMoment(one, datetime(2026, 3, day, 12, tzinfo=UTC)) for one, day in ((1, 8), (2, 9))]
    assert [newest_at_end(kept, each) for each in (WEEK, WEEK.before)] == [kept[1], kept[0]]
    assert newest_at_end(kept, WEEK.before.before) is None


def session_levels(*rows: tuple[str, int, float, int]) -> pd.DataFrame:
    columns = ["athlete", "session_id", "peak_value", "efforts"]
    return pd.DataFrame(rows, columns=columns).assign(name=lambda each: each["athlete"])


def test_levels_are_compared_with_the_error_of_days_and_efforts() -> None:
    before = session_levels(("A1", 1, 40.0, 4), ("A2", 2, 50.0, 4))
    after = session_levels(("A1", 3, 40.0, 2), ("A1", 4, 44.1, 2), ("A3", 5, 30.0, 2))
    [row] = week_levels(before, after, (2.0, 3.0), "higher").to_dict("records")
    # Geometric mean 42 against 40; variances 4 + 9 / 4 and (4 + 9 / 2) / 2, in %.
    error = np.sqrt(4.0 + 9.0 / 4 + (4.0 + 9.0 / 2) / 2) / 100
    assert row["level_after"] == pytest.approx(42.0)
    assert row["change_pct"] == pytest.approx(5.0)
    assert row["change_pct_low"] == pytest.approx(100 * (1.05 * np.exp(-1.6449 * error) - 1), 1e-3)
    assert (row["sessions_before"], row["sessions_after"], row["told"]) == (1, 2, False)
    [worse] = week_levels(before, after, (0.2, 0.3), "lower").to_dict("records")
    assert worse["change_pct"] == pytest.approx(100 * (1 / 1.05 - 1)) and worse["told"]


def test_noise_alone_reports_a_tenth_of_the_levels() -> None:
    rng = np.random.default_rng(1)
    weeks = []
    for _ in range(2):
        day, efforts = rng.normal(0, 0.02, 4000), rng.normal(0, 0.03, (4000, 3)).mean(1)
        rows = [(f"A{at}", at, 40 * np.exp(each), 3) for at, each in enumerate(day + efforts)]
        weeks.append(session_levels(*rows))
    found = week_levels(weeks[0], weeks[1], (2.0, 3.0), "higher")
    assert found["told"].mean() == pytest.approx(curve_words.NOISE_SHARE, abs=0.015)


def test_calls_and_best_volumes_of_two_fits_are_compared(planned_store: Store) -> None:
    report = report_of(planned_store)
    said, items = section_of(report, "What changed")
    assert "Curves of 8 Mar 2026 against those of 15 Mar 2026." in said
    assert "1 of 5 calls changed. Without a new call, 1 best volume left" in said
    assert items["Unknown Four"] == (
        "**not known, now long**; chance of long 20 %, now 97 %; best volume 9 (6 to 13), now"
        " 60 (42 to 84) efforts, from 2 sessions, now 2"
    )
    assert items["Short Two"].startswith("Something has changed since")
    assert "went from 20 (16 to 25) to 40 (31 to 52) efforts" in items["Long One"]
    assert words.headline(report).startswith("1 call changed, 1 of 4 plans done as planned, ")
    assert calls_between(planned_store, "jump_height", report.moments[:1] * 2).empty


def test_one_fit_cannot_be_compared(shown_store: Store) -> None:
    # The only fit is from today; the later week takes it, as no session came after that week.
    report, fit = report_of(shown_store), FitMoment(1, datetime(2026, 3, 8, tzinfo=UTC))
    assert report.moments[0] is None and report.moments[1] is not None and report.calls.empty
    expected = {
        (None, None): "No comparison: there were no curves by the end of either week",
        (None, fit): "No comparison: the earlier week has no curves; the first are of 8 Mar 2026",
        (fit, fit): "No comparison: both weeks have the same curves, those of 8 Mar 2026",
    }
    for kept, sentence in expected.items():
        assert sentence in section_of(replace(report, moments=kept), "What changed")[0]


def test_plans_say_how_they_were_followed_and_where_to_record(planned_store: Store) -> None:
    said, items = section_of(report_of(planned_store), "Plans")
    assert "4 plans for 1 day: 1 as planned, 1 changed, 1 skipped, 1 not recorded." in said
    assert "no start value was measured" in said
    assert items == {
        "10 Mar 2026": "1 of 4 plans not recorded",
        "Short Two": "changed on 10 Mar: 40 efforts set, did 3",
        "Either Three": "skipped on 10 Mar: 40 efforts set",
    }


def test_tests_warnings_and_data_lead_to_their_pages(filled_store: Store) -> None:
    broken = b"athlete,started_at,measure,effort,value\nA1,yesterday,jump_height,1,40"
    import_efforts(filled_store, read_table(broken, "broken.csv"), "test")
    today = Week.of(datetime.now(UTC).date())
    report = report_of(filled_store, today.first, MONDAY)
    due = section_of(report, "Tests due")[1]["Untested Five"]
    assert due.startswith("fade test, 80 efforts at most, worth 0.60 %")
    assert "Few sessions: four athletes." in section_of(report, "How far")[1]["How sure"]
    said, items = section_of(report, "Data")
    assert said.startswith("0 sessions with 0 efforts of 0 athletes in this week; none of Either")
    assert items["Data checks"] == "Jump height: 6 findings to decide"
    assert "1 row of broken.csv set aside on" in items["Import"]
    links = [each.link for part in words.sections(report) for each in part.items]
    assert {each.script for each in links} >= {"athlete", "data_checks", "import_efforts"}
    assert {"athlete": "A5", "measure": "jump_height"} in [each.query for each in links]


def test_there_is_no_report_before_the_first_fit(unfitted_store: Store) -> None:
    assert week_report(unfitted_store, "jump_height", MONDAY, MONDAY) is None
    with pytest.raises(BadInput, match="There are no curves of jump height yet"):
        squad_sheet(unfitted_store, "jump_height", WEEK, WEEK.before)


def read(content: bytes) -> list[str]:
    pages = pypdfium2.PdfDocument(io.BytesIO(content))
    return [page.get_textpage().get_text_range().replace("\u00a0", " ") for page in pages]


def test_the_sheet_has_the_squad_on_the_front_and_the_week_on_the_back(
    planned_store: Store,
) -> None:
    content = squad_sheet(planned_store, "jump_height", WEEK, WEEK.before)
    assert content == squad_sheet(planned_store, "jump_height", WEEK, WEEK.before)
    front, back = read(content)
    for told_there in ("Jump height, 9 Mar to 15 Mar 2026", "Test Club", "Unknown Four: not known"):
        assert told_there in back
    for told_there in ("need another length", "Are own lengths worth it?", "What changed this"):
        assert told_there in front
    # The figure's rows, columns and line, as on the page.
    rows = squad(planned_store, "jump_height")
    assert "standard 15" in front and "lost at standard" in front and "Longer than 15" in front
    for row in rows.to_dict("records"):
        told_there = percent(row["loss_at_standard_pct"]).replace("\u00a0", " ")
        assert row["name"] in front and told_there in front


@pytest.mark.parametrize("athletes", [1, 40, 120])
def test_a_squad_of_any_size_fits_the_paper(athletes: int) -> None:
    row = {"call": "short", "best_volume": 5.0, "best_volume_low": 3.0, "best_volume_high": 9.0}
    row |= {"good_from": 2.0, "good_to": 8.0, "length": 5.0, "loss_at_standard_pct": 3.0}
    rows = pd.DataFrame([{"name": f"Łukasz {at}"} | row for at in range(athletes)])
    drawing = squad_drawing(rows, 15.0, "efforts", WIDTH, FIGURE_HEIGHT)
    left, bottom, right, top = drawing.getBounds()
    assert left >= 0 and right <= WIDTH and bottom >= 0 and top <= FIGURE_HEIGHT + 1


def test_a_full_week_still_fits_one_page() -> None:
    item = Item("a <long> & **bold** sentence " * 8, Link("athlete", "Łukasz Żółć"))
    sections = tuple(Section(f"Part {at}", ("said " * 90,), (item,) * 12) for at in range(6))
    register_fonts()
    target = io.BytesIO()
    canvas = Canvas(target, pagesize=A4)
    draw_page(canvas, week_story("Title", "heading", sections))
    canvas.save()
    [page] = read(target.getvalue())
    assert page.count("and 4 more on the page This week") == 6
    assert "Part 5" in page and "a <long> & bold sentence" in page and "Łukasz Żółć" in page


def test_the_page_shows_the_week_and_offers_its_sheet(
    planned_store: Store, sign_in: SignIn
) -> None:
    page = sign_in(planned_store, "dora", "week")
    text = told(page)
    assert "1 call changed, 1 of 4 plans done as planned, 17 sessions came in" in text
    assert "No athlete has sessions in the curves of both weeks." in text
    assert [each.url for each in page.link_button] == [
        "/download/week.pdf?measure=jump_height&week=2026-03-09&against=2026-03-02"
    ]
    links = {each.proto.label: each.proto for each in page.get("page_link")}
    assert "athlete=A4" in links["Unknown Four"].query_string
    assert page.dataframe[0].value["athlete"].iloc[0] == "Short Two"
    page.selectbox(key="week").set_value("2026-03-16").run()
    assert "0 sessions came in" in told(page) and not page.exception
