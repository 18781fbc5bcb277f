"""Which sheet of a workbook is read, and what is said about the others."""

from __future__ import annotations

import io
from collections.abc import Sequence

import openpyxl
import pytest

from db.errors import BadInput
from db.file.store import Store
from db.imports.effort_files import NEEDED, read_table
from db.imports.storing import import_efforts
from db.tables.file_kinds import sheets_of
from db.tables.text_tables import read_text_table

ROW = ["A1", "2026-03-01T09:00", "jump_height", 1]


def workbook(
    shown: Sequence[str] = (), hidden: Sequence[str] = (), charts_first: bool = False
) -> bytes:
    """A workbook with one effort on each sheet, told apart by its value."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    if charts_first:
        book.create_chartsheet("Curve")
    for place, name in enumerate([*shown, *hidden]):
        sheet = book.create_sheet(name)
        sheet.append([*NEEDED, "kind"])
        sheet.append([*ROW, 41.5 + place, "fade"])
        sheet.sheet_state = "hidden" if name in hidden else "visible"
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()


def test_the_first_visible_sheet_is_read_and_the_others_are_named() -> None:
    content = workbook(["May", "June"], hidden=["Lists"])
    table = read_table(content, "x.xlsx")
    assert (table.name, table.frame["value"].tolist()) == ("x.xlsx, sheet May", ["41.5"])
    assert table.sheets == sheets_of(content, "x.xlsx")
    assert table.sheets is not None
    assert (table.sheets.read, table.sheets.shown, table.sheets.hidden) == (
        "May",
        ("May", "June"),
        ("Lists",),
    )


def test_a_sheet_can_be_chosen_by_name_even_if_it_is_hidden() -> None:
    content = workbook(["May", "June"], hidden=["Lists"])
    for place, name in enumerate(["may", " June", "LISTS"]):
        table = read_table(content, "x.xlsx", name)
        assert table.frame["value"].tolist() == [f"{41.5 + place}"]
    with pytest.raises(BadInput, match="no sheet 'July'. Its sheets are May, June, Lists"):
        read_table(content, "x.xlsx", "July")


def test_a_workbook_of_one_sheet_goes_by_the_name_of_the_file() -> None:
    content = workbook(["May"])
    assert read_table(content, "x.xlsx").name == "x.xlsx"
    assert read_table(content, "x.xlsx", "May").sha256 == read_table(content, "x.xlsx").sha256


def test_a_chart_in_front_is_skipped() -> None:
    table = read_table(workbook(["May"], charts_first=True), "x.xlsx")
    assert (table.name, table.frame["value"].tolist()) == ("x.xlsx", ["41.5"])


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (workbook(hidden=["Lists"], charts_first=True), "only hidden ones: Lists. Show one and"),
        (workbook(charts_first=True), "no sheet with cells, only charts. Add one"),
    ],
    ids=["hidden", "charts"],
)
def test_a_workbook_without_a_sheet_to_read_says_so(content: bytes, said: str) -> None:
    with pytest.raises(BadInput, match=said):
        read_text_table(content, "x.xlsx")


def test_the_message_about_an_unusable_sheet_names_the_others() -> None:
    book = openpyxl.load_workbook(io.BytesIO(workbook(["Efforts"])))
    notes = book.create_sheet("Read me", 0)
    content = io.BytesIO()
    book.save(content)
    with pytest.raises(BadInput, match="sheet Read me has no rows .* The workbook also has: Effo"):
        read_table(content.getvalue(), "x.xlsx")
    notes.append(["How to"])
    notes.append(["Fill it in"])
    content = io.BytesIO()
    book.save(content)
    with pytest.raises(BadInput, match="lacks the column .* The workbook also has: Efforts."):
        read_table(content.getvalue(), "x.xlsx")


def test_each_sheet_is_its_own_import(store: Store) -> None:
    """Importing one sheet does not replace the rows set aside from another."""
    content = workbook(["May", "June"])
    first, second = (read_table(content, "x.xlsx", name) for name in ("May", "June"))
    assert first.sha256 != second.sha256
    assert import_efforts(store, first, "tester").stored == 1
    assert import_efforts(store, second, "tester").set_aside == 1
    again = import_efforts(store, read_table(content, "x.xlsx"), "tester")
    assert (again.batch_id, again.known) == (1, 1)


def test_only_a_workbook_has_sheets() -> None:
    assert sheets_of(b"a,b", "x.csv") is None
    with pytest.raises(BadInput, match="The file x.csv has no sheets. Leave the name"):
        read_text_table(b"a,b\n1,2\n", "x.csv", "May")
