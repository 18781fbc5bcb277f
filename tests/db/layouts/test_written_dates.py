"""Dates and times as people and programs write them."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest

from db.layouts.written_dates import date_in, day_of, forms_that_fit, is_time_of_day, time_of_day

TODAY = date(2026, 6, 30)


@pytest.mark.parametrize(
    ("texts", "forms"),
    [
        (["2025-03-13"], ("year first",)),
        (["03/13/2025"], ("month first",)),
        (["13/03/2025", "04/03/2025"], ("day first",)),
        (["03/04/2025"], ("day first", "month first")),
        (["03.04.2025"], ("day first",)),
        (["3-4-25"], ("day first", "month first")),
        (["13 Mar 2025", "May 4, 2025", "2. Juni 2025"], ("year first",)),
        (["Thu 03/04/2025"], ("day first",)),
        (["12/01/2026"], ("day first",)),
        (["13/03/2025", "03/13/2025"], ()),
        (["45729", "45730.5"], ("spreadsheet days",)),
        (["1741860000"], ("seconds since 1970",)),
        (["20250313"], ("year first",)),
        (["38.4"], ()),
        (["someday"], ()),
    ],
)
def test_the_forms_that_a_column_of_dates_can_have(
    texts: list[str], forms: tuple[str, ...]
) -> None:
    assert forms_that_fit(texts, TODAY) == forms


@pytest.mark.parametrize("year", range(2012, 2026))
def test_every_day_of_a_year_is_read_back_in_every_form(year: int) -> None:
    """Checked against dates that the standard library has written."""
    forms = {"day first": "%d/%m/%Y", "month first": "%m/%d/%Y", "year first": "%Y/%m/%d"}
    for number in range(0, 365, 7):
        day = date(year, 1, 1) + timedelta(days=number)
        for form, written in forms.items():
            assert day_of(day.strftime(written), form) == day
        for written in ("%d %B %Y", "%A, %d %b %Y", "%b %d, %Y", "%d-%b-%y", "%Y%m%d"):
            assert day_of(day.strftime(written), "year first") == day
        serial = (datetime(year, 1, 1) + timedelta(days=number) - datetime(1899, 12, 30)).days
        assert day_of(str(serial), "spreadsheet days") == day


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("9:05", "09:05:00"),
        ("9h30", "09:30:00"),
        ("0930", "09:30:00"),
        ("9 pm", "21:00:00"),
        ("12:05 a.m.", "00:05:00"),
        ("17:30 Uhr", "17:30:00"),
        ("0.395833333", "09:30:00"),
        ("2025-03-13T17:05:00", "17:05:00"),
    ],
)
def test_times_of_day(text: str, said: str) -> None:
    assert time_of_day(text) == said
    assert is_time_of_day(text)


@pytest.mark.parametrize("text", ["1.95", "noon", "25:10", "38.4", ""])
def test_texts_that_are_not_times_of_day(text: str) -> None:
    assert not is_time_of_day(text)


def test_a_date_keeps_the_time_after_it() -> None:
    assert date_in("03/13/2025 2:05 PM", "month first") == "2025-03-13T14:05:00"
    assert date_in("Thu 13.3.2025", "day first") == "2025-03-13"
    assert date_in("someday", "day first") == "someday"
    assert day_of("Mon 13.3.2025", "day first") is None, "it was a Thursday"
