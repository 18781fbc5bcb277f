"""Where the table is in a file, and which lines are left out of it."""

from __future__ import annotations

import pytest

from db.errors import BadInput
from db.layouts.laid_out import WESTERN, read_laid_out
from tests.layouts.layout import book


def names(content: bytes, name: str = "x.csv") -> list[str]:
    return list(read_laid_out(content, name).titles.values())


def test_a_header_below_titles_is_found_and_facts_above_it_become_columns() -> None:
    laid = read_laid_out(b"Camp\nDate:,2025-03-13\n\nName,Jump (cm),Rep\nAnna,38,1\n", "x.csv")
    assert list(laid.titles.values()) == ["Name", "Jump (cm)", "Rep", "Date"]
    assert laid.from_above == ("date",)
    assert laid.table.frame["date"].tolist() == ["2025-03-13"]
    assert laid.said[:2] == ("x", "Camp")


def test_rows_keep_their_line_in_the_file() -> None:
    laid = read_laid_out(b"\nName,Date,Jump\n\nAnna,2025-03-13,38\n", "x.csv")
    assert laid.table.frame.index.tolist() == [4]
    assert laid.table.row_texts([4]) == ["Anna,2025-03-13,38"]


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("Mean,,38", "a total"),
        ("Team average,,38", "a total"),
        ("Name,Date,Jump", "the header again"),
        ("* all of it measured indoors,,", "a note"),
    ],
)
def test_lines_that_are_not_rows_are_left_out_with_the_reason(line: str, why: str) -> None:
    content = f"Name,Date,Jump\nAnna,2025-03-13,38\n{line}\n"
    laid = read_laid_out(content.encode(), "x.csv")
    assert [(each.line, each.why) for each in laid.left_out] == [(3, why)]
    assert len(laid.table.frame) == 1


def test_an_athlete_called_max_is_not_a_total() -> None:
    laid = read_laid_out(b"Name,Date,Jump\nMax,2025-03-13,38\n", "x.csv")
    assert laid.left_out == () and len(laid.table.frame) == 1


def test_a_header_of_two_rows_and_one_of_units() -> None:
    rows = [
        ["", "", "Jump", "", "Sprint"],
        ["Name", "Date", 1, 2, 1],
        ["", "", "cm", "cm", "s"],
        ["Anna", "2025-03-13", 38, 39, 1.9],
    ]
    assert names(book({"S": rows}, merged=["C1:D1"]), "x.xlsx") == [
        "Name",
        "Date",
        "Jump 1 (cm)",
        "Jump 2 (cm)",
        "Sprint 1 (s)",
    ]


def test_columns_with_the_same_name_or_none_are_told_apart() -> None:
    assert names(b"Name,Jump,Jump,\nAnna,38,39,x\n") == [
        "Name",
        "Jump",
        "Jump #2",
        "column 4",
    ]
    assert names(b"Name,Jump,,\nAnna,38,,\n") == ["Name", "Jump"]
    assert names(b"Name,,Jump\nAnna,x,39\n") == ["Name", "column 2", "Jump"]


def test_a_text_that_is_not_in_utf_8_is_read_and_says_so() -> None:
    laid = read_laid_out("Name;Jump\nZo\u00eb M\u00fcller;38\n".encode("cp1252"), "x.csv")
    assert laid.table.frame["name"].tolist() == ["Zo\u00eb M\u00fcller"]
    assert laid.notes == (WESTERN,)
    with pytest.raises(BadInput, match="not in UTF-8"):
        read_laid_out(b"a\x00b\xff", "x.csv")
