"""Cells of a sheet are read as openpyxl reads them, even in forms that it never writes."""

from __future__ import annotations

import io
from datetime import date, datetime, time, timedelta

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from db.errors import BadInput
from db.tables.sheet_cells import sheet_rows
from db.tables.workbooks import Workbook
from tests.db.hostile_files import sheet, workbook

MOMENTS = st.datetimes(datetime(1905, 1, 1), datetime(2100, 1, 1)).map(
    lambda moment: moment.replace(microsecond=0)
)
# A sheet cannot hold characters that XML cannot hold.
TEXTS = st.text(st.characters(min_codepoint=32, exclude_categories=["Cs"]), min_size=1, max_size=8)
VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**12), 10**12),
    st.floats(allow_nan=False, allow_infinity=False),
    MOMENTS,
    MOMENTS.map(lambda moment: moment.time()),
    TEXTS.filter(lambda text: not text.startswith("=") and "_x" not in text),
)


def rows_of(content: bytes) -> list[tuple[int, list[str]]]:
    book = Workbook(content, "x.xlsx")
    return list(sheet_rows(book, book.sheets[0]))


def saved(book: openpyxl.Workbook) -> bytes:
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()


def as_text(value: object) -> str:
    """Our text of a cell, from the value that openpyxl gives."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.lists(VALUES, max_size=4), min_size=1, max_size=5), st.booleans())
def test_cells_are_read_as_openpyxl_reads_them(rows: list[list[object]], of_1904: bool) -> None:
    book = openpyxl.Workbook()
    if of_1904:
        book.epoch = CALENDAR_MAC_1904
    for row in rows:
        book.active.append(row)
    content = saved(book)
    again = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
    expected = {}
    for line, row in enumerate(again.active.values, start=1):
        texts = [as_text(cell) for cell in row]
        while texts and not texts[-1]:
            texts.pop()
        if texts:
            expected[line] = texts
    assert dict(rows_of(content)) == expected


def test_numbers_are_read_by_their_format() -> None:
    book = openpyxl.Workbook()
    shown = {
        "General": "46082.375",
        "0.0": "46082.375",
        "yyyy-mm-dd hh:mm": "2026-03-01T09:00:00",
        "d. mmm yyyy": "2026-03-01T09:00:00",
        '[$-407]d. mmmm yyyy "Sitzung"': "2026-03-01T09:00:00",
        "[h]:mm": "46082 days, 9:00:00",
    }
    for place, form in enumerate(shown, start=1):
        book.active.cell(1, place, 46082.375).number_format = form
    assert rows_of(saved(book)) == [(1, list(shown.values()))]


def test_a_day_in_a_format_without_hours_has_no_time() -> None:
    book = openpyxl.Workbook()
    for place, (value, form) in enumerate(
        [
            (date(2026, 3, 1), "yyyy-mm-dd"),
            (datetime(2026, 3, 1), 'd.m.yyyy "h"'),
            (datetime(2026, 3, 1), "yyyy-mm-dd hh:mm"),
            (datetime(2026, 3, 1, 9), "yyyy-mm-dd"),
            (time(9, 30), "hh:mm"),
            (timedelta(minutes=90), "[h]:mm"),
        ],
        start=1,
    ):
        cell = book.active.cell(1, place, value)
        cell.number_format = form
    assert rows_of(saved(book)) == [
        (
            1,
            [
                "2026-03-01",
                "2026-03-01",
                "2026-03-01T00:00:00",
                "2026-03-01T09:00:00",
                "09:30:00",
                "1:30:00",
            ],
        )
    ]


def test_ways_of_writing_a_cell() -> None:
    strings = (
        b'<sst><si><t xml:space="preserve"> plain</t></si>'
        b"<si><r><t>of </t></r><r><rPr><b/></rPr><t>runs</t></r>"
        b"<rPh><t>spoken</t></rPh></si><si><t>a_x000A_b</t></si><si/></sst>"
    )
    rows = [
        b'<row r="2"><c r="B2" t="s"><v>0</v></c><c t="s"><v>1</v></c><c t="s"><v>2</v></c></row>',
        b'<row><c><f>1+1</f><v>2</v></c><c t="str"><f>A1</f><v>x</v></c><c t="e"><v>#N/A</v></c>'
        b'<c t="b"><v>1</v></c><c t="d"><v>2026-03-01T09:30:00</v></c></row>',
        b'<row r="9"><c r="A9" t="inlineStr"><is><t>in &amp; </t><t>line</t></is></c>'
        b'<c r="C9" s="7"><v>1.50</v></c><c r="D9"/><c r="E9" t="s"><v>3</v></c></row>',
        b'<row r="10"><c r="A10" s="1"/></row>',
    ]
    assert rows_of(workbook(rows=sheet(*rows), strings=strings)) == [
        (2, ["", " plain", "of runs", "a\nb"]),
        (3, ["2", "x", "#N/A", "yes", "2026-03-01T09:30:00"]),
        (9, ["in & line", "", "1.5"]),
    ]


def test_a_sheet_whose_tags_have_prefixes_is_read() -> None:
    spaced = b'<x:worksheet xmlns:x="y"><x:sheetData><x:row><x:c><x:v>4</x:v></x:c></x:row>'
    rows = [spaced, b"</x:sheetData></x:worksheet>"]
    assert rows_of(workbook(rows=rows)) == [(1, ["4"])]


@pytest.mark.parametrize(
    "rows",
    [
        b'<row r="2"/><row r="2"/>',
        b'<row><c t="s"><v>7</v></c></row>',
        b'<row><c r="A"><v>x</v></c></row>',
        b'<row><c r="1"><v>1</v></c></row>',
    ],
    ids=["a row twice", "a text that is not there", "no number", "no column"],
)
def test_a_sheet_that_contradicts_itself_is_not_read(rows: bytes) -> None:
    from db.tables.text_tables import read_text_table

    with pytest.raises(BadInput, match="cannot be read as Excel"):
        read_text_table(workbook(rows=sheet(rows)), "x.xlsx")
