"""Files made to take all memory are refused in a sentence.

`python -m tests.benchmarks.hostile_files` reads them at full size and measures time and memory.
"""

from __future__ import annotations

import tracemalloc
from functools import partial

import pytest

from db.errors import BadInput
from db.tables import file_rows, limits, parquet_files, sheet_cells, workbooks
from db.tables.text_tables import read_text_table
from tests.db import hostile_files as hostile
from tests.db.hostile_files import HOSTILE, Maker

TOO_LARGE = "is larger than an import takes. Save the rows as 'CSV UTF-8'"
NOT_EXCEL = "cannot be read as Excel. Open it in your spreadsheet program"
# By name, in a small size that is still refused: what makes the file, and what is said.
SMALL: dict[str, tuple[Maker, str]] = {
    "two_rows_far_apart": (hostile.two_rows_far_apart, "a row with the number 2,000,000,000"),
    "only_the_last_column": (partial(hostile.only_the_last_column, 20), "has 16,384 columns"),
    "unpacks_to_gigabytes": (
        partial(hostile.unpacks_to_gigabytes, 2**20),
        "bytes when unpacked, and an import takes at most 1,000,000",
    ),
    "shared_texts": (partial(hostile.shared_texts, 3_000), f"The list of texts .* {TOO_LARGE}"),
    "long_shared_texts": (
        partial(hostile.long_shared_texts, 10, 1_000),
        "more than 5,000 characters of text",
    ),
    "styles": (partial(hostile.styles, 3_000), f"The list of parts .* {TOO_LARGE}"),
    "sheets": (partial(hostile.sheets, 101), "has 101 sheets, and an import takes at most 100"),
    "parts": (partial(hostile.parts, 101), "has 101 parts, and an import takes at most 100"),
    "nested": (partial(hostile.nested, 101), NOT_EXCEL),
    "one_long_cell": (
        partial(hostile.one_long_cell, 32_768),
        "more than 32,767 characters in a cell",
    ),
    "one_long_tag": (partial(hostile.one_long_tag, 400_000), NOT_EXCEL),
    "one_long_remark": (partial(hostile.one_long_remark, 400_000), NOT_EXCEL),
    "merged_ranges": (
        partial(hostile.merged_ranges, 11_000),
        f"The sheet 'Efforts' .* {TOO_LARGE}",
    ),
    "empty_cells": (partial(hostile.empty_cells, 2_500), "more than 2,000 cells in a sheet"),
    "full_cells": (partial(hostile.full_cells, 2_500), f"The sheet 'Efforts' .* {TOO_LARGE}"),
    "long_numbers": (partial(hostile.long_numbers, 2), "more than 5,000 characters of text"),
    "one_text_many_times": (
        partial(hostile.one_text_many_times, 500, 4_000),
        "more than 5,000 characters of text",
    ),
    "crowded_tags": (partial(hostile.crowded_tags, 12_000), f"The sheet 'Efforts' .* {TOO_LARGE}"),
    "one_part_many_times": (partial(hostile.one_part_many_times, 20), "bytes when unpacked"),
    "text_in_disguise": (hostile.text_in_disguise, NOT_EXCEL),
    "entities": (hostile.entities, NOT_EXCEL),
    "outside_entity": (hostile.outside_entity, NOT_EXCEL),
    "hungry_packing": (hostile.hungry_packing, NOT_EXCEL),
    "cells_of_nothing": (partial(hostile.cells_of_nothing, 300, 100), "has 30,000 cells"),
    "repeated_text": (partial(hostile.repeated_text, 200), "has 20,000,000 bytes when unpacked"),
    "shared_prefixes": (partial(hostile.shared_prefixes, 5, 100), "cannot be read as Parquet"),
    "long_text": (partial(hostile.long_text, 2**21 + 1), "more than 32,767 characters in a cell"),
    "long_texts": (partial(hostile.long_texts, 2, 40_000), "more than 32,767 characters in a cell"),
    "nested_columns": (hostile.nested_columns, "column value .* has several values in a cell"),
    "described_columns": (partial(hostile.described_columns, 1_001), "has 1,001 columns"),
    "long_description": (
        partial(hostile.long_description, 2_000_000),
        "a description of 4,...,... bytes",
    ),
    "false_sizes": (partial(hostile.false_sizes, 1_500_000), "at least 1,500,0.. bytes when unp"),
    "false_rows": (partial(hostile.false_rows, 20_001), "has 20,001 rows"),
    "many_pages": (partial(hostile.many_pages, 101), "more pages, and an import takes at most 100"),
    "commas": (partial(hostile.commas, 5_000), "has 5,001 columns"),
    "wide_header": (partial(hostile.wide_header, 5_000, 20), "has 5,000 columns"),
    "short_lines": (partial(hostile.short_lines, 1_000, 30), "has 30,000 cells"),
    "short_quoted_lines": (partial(hostile.short_quoted_lines, 1_000, 30), "at least 2.,... cells"),
    "broken_lines": (
        partial(hostile.broken_lines, 2_000),
        "more than 100 rows that do not fit under its header; on line 2, the first of them, the "
        "row has 4 cells and the header 5",
    ),
    "commas_below": (partial(hostile.commas_below, 3, 10_000), "at least 20,002 cells"),
    "endless_quote": (partial(hostile.endless_quote, 2**20 + 1), "begins on line 3 is longer than"),
    "endless_quoted_lines": (
        partial(hostile.endless_quoted_lines, 300_000),
        "begins on line 3 is longer than 1,048,576 bytes",
    ),
    "endless_line": (partial(hostile.endless_line, 2**20 + 1), "begins on line 3 is longer than"),
    "blank_lines": (partial(hostile.blank_lines, 30_000), "has 30,002 rows"),
    "blank_returns": (partial(hostile.blank_returns, 500_000), "has at least 500,00. lines"),
    "zeros": (partial(hostile.zeros, 1_000), "not in UTF-8: line 3 has a character of another"),
    "wide_signs": (partial(hostile.wide_signs, 2**19), "begins on line 3 is longer than"),
    "wide_blank_lines": (partial(hostile.wide_blank_lines, 30_000), "has 30,002 rows"),
    "packed": (partial(hostile.packed, 1_000), "not in UTF-8: line 1 has a character of another"),
    "other_encoding": (partial(hostile.other_encoding, 1), "not in UTF-8: line 2 has a character"),
    "too_many_bytes": (
        partial(hostile.too_many_bytes, 1_100_000),
        "bytes, and an import takes at most 1,000,000. Divide it into several files",
    ),
}
BYTES_OF_ITS_OWN = (
    "wide_signs",
    "endless_quoted_lines",
    "long_description",
    "one_long",
    "endless",
    "long_text",
)


@pytest.fixture
def small_limits(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> None:
    monkeypatch.setattr(limits, "MOST_ROWS", 20_000)
    monkeypatch.setattr(limits, "MOST_LINES", 400_000)
    monkeypatch.setattr(limits, "MOST_CELLS", 20_000)
    monkeypatch.setattr(file_rows, "CHUNK_CELLS", 1_000)
    monkeypatch.setattr(file_rows, "MOST_BROKEN_ROWS", 100)
    monkeypatch.setattr(parquet_files, "_MOST_PAGES", 100)
    monkeypatch.setattr(sheet_cells, "MOST_SHEET_CELLS", 2_000)
    monkeypatch.setattr(sheet_cells, "_MOST_STRINGS", 2_000)
    monkeypatch.setattr(sheet_cells, "_MOST_STRING_CHARACTERS", 5_000)
    monkeypatch.setattr(sheet_cells, "_MOST_SHEET_CHARACTERS", 5_000)
    monkeypatch.setattr(workbooks, "_MOST_SHEETS", 100)
    monkeypatch.setattr(workbooks, "_MOST_PARTS", 100)
    monkeypatch.setattr(workbooks, "_MOST_PLAN_TAGS", 2_000)
    if not request.node.callspec.id.startswith(BYTES_OF_ITS_OWN):
        monkeypatch.setattr(limits, "MOST_BYTES", 1_000_000)


def name_of(file: str) -> str:
    (ending,) = (each for each, makers in HOSTILE.items() if file in {m.__name__ for m in makers})
    return f"{file}.{ending}"


def test_every_hostile_file_has_a_small_version_here() -> None:
    assert set(SMALL) == {make.__name__ for makers in HOSTILE.values() for make in makers}
    assert len(SMALL) >= 24


@pytest.mark.usefixtures("small_limits")
@pytest.mark.parametrize("file", list(SMALL))
def test_a_hostile_file_is_refused_in_a_sentence(file: str) -> None:
    make, said = SMALL[file]
    with pytest.raises(BadInput, match=said) as refusal:
        read_text_table(make(), name_of(file))
    assert name_of(file) in refusal.value.message


@pytest.mark.parametrize("make", [hostile.two_rows_far_apart, hostile.only_the_last_column])
def test_a_small_workbook_takes_little_memory(make: Maker) -> None:
    content = make()
    tracemalloc.start()
    with pytest.raises(BadInput):
        read_text_table(content, "x.xlsx")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 5_000_000


def test_a_sheet_that_claims_too_large_a_range_is_read() -> None:
    table = read_text_table(hostile.false_dimension(), "x.xlsx")
    assert table.frame.to_dict("records") == [
        dict(zip(hostile.HEADER.split(","), hostile.ROW.split(","), strict=True))
    ]
    assert table.frame.index.tolist() == [2]
