"""Numbers with two meanings: settled by other numbers or by the stated mark, or in doubt."""

from __future__ import annotations

import io
from collections.abc import Sequence

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from db.efforts.rows import efforts
from db.errors import BadInput
from db.file.store import Store
from db.imports.corrections import correctable_rows, store_corrected
from db.imports.kept_mappings import read_efforts
from db.imports.mapped_tables import mapped
from db.imports.mappings import ColumnMapping, Source, mapping_from_json, mapping_to_json
from db.imports.past_imports import set_aside_rows
from db.imports.storing import ImportReport, check_rows, import_efforts
from db.roster.measures import Measure, save_measure
from db.tables import written_numbers
from db.tables.cells import number
from db.tables.text_tables import RawTable, read_text_table
from db.tables.written_numbers import (
    BETWEEN_COMMAS,
    BETWEEN_OTHERS,
    KEYED_IN,
    OURS,
    WITH_TYPES,
    NumberWriting,
    numbers_as_read,
)

COLUMNS = ["athlete", "started_at", "measure", "effort", "value", "volume_before", "rest_minutes"]
TWO_MEANINGS = "can be 1.2 or 1200, and nothing in the file shows which; write one of them"


def read(texts: Sequence[str], writing: NumberWriting, **others: str) -> list[float | None]:
    columns = {"value": texts} | {name: [text] for name, text in others.items()}
    said = numbers_as_read(columns, writing)["value"]
    return [number_or_none(said.get(text, text)) for text in texts]


def number_or_none(text: str) -> float | None:
    try:
        return number(text)
    except ValueError:
        return None


@pytest.mark.parametrize("text", ["1,200", "-1,200", "999,999"])
@pytest.mark.parametrize("writing", [BETWEEN_COMMAS, BETWEEN_OTHERS, WITH_TYPES, KEYED_IN, OURS])
def test_a_number_of_two_meanings_is_in_doubt(text: str, writing: NumberWriting) -> None:
    (said,) = numbers_as_read({"value": [text]}, writing)["value"].values()
    readings = f"{float(text.replace(',', '.')):g} or {text.replace(',', '')}"
    assert said == f"{text} ({readings})"
    with pytest.raises(ValueError, match=f"'{text}' can be {readings}, and nothing in the file"):
        number(said)
    assert numbers_as_read({"value": [said]}, writing)["value"] == {}


def test_a_point_is_in_doubt_only_where_it_may_stand_between_thousands() -> None:
    assert read(["1.200"], BETWEEN_OTHERS) == [None]
    for writing in (BETWEEN_COMMAS, WITH_TYPES, KEYED_IN, OURS):
        assert read(["1.200"], writing) == [1.2]


@pytest.mark.parametrize(
    ("other", "meant"),
    [
        ("12,5", 1.2),
        ("0,200", 1.2),
        ("1200,5", 1.2),
        ("1.234,5", 1.2),
        ("1.234.567", 1.2),
        ("41.5", 1200),
        ("0.200", 1200),
        ("1,234.5", 1200),
        ("1,234,567", 1200),
        ("1200", None),
        ("1,300", None),
        ("x", None),
        ("", None),
    ],
)
@pytest.mark.parametrize("beside", [True, False], ids=["another column", "the same column"])
def test_other_numbers_settle_the_doubt(other: str, meant: float | None, beside: bool) -> None:
    texts = ["1,200"] if beside else ["1,200", other]
    others = {"volume_before": other} if beside else {}
    assert read(texts, BETWEEN_OTHERS, **others)[0] == meant
    # The other way round for a point.
    thousands = {1.2: 1200.0, 1200: 1.2, None: None}[meant]
    assert read([text.replace("1,200", "1.200") for text in texts], BETWEEN_OTHERS, **others)[
        0
    ] == (thousands)


def test_a_column_counts_before_others_and_numbers_that_disagree_settle_nothing() -> None:
    assert read(["1,200", "12,5", "41.5"], BETWEEN_OTHERS) == [None, 12.5, 41.5]
    assert read(["1,200", "12,5"], BETWEEN_OTHERS, volume_before="41.5") == [1.2, 12.5]
    assert read(["1,200"], BETWEEN_OTHERS, volume_before="41.5", rest_minutes="2,5") == [None]


def test_between_commas_a_comma_is_no_decimal_mark_unless_stated() -> None:
    assert read(["1,200", "1.834"], BETWEEN_COMMAS, rest_minutes="41.5") == [1200, 1.834]
    assert read(["1,200", "12,5"], BETWEEN_COMMAS) == [None, None]
    said = BETWEEN_COMMAS.with_mark("comma")
    assert read(["1,200", "12,5", "1.200", "41.5"], said) == [1.2, 12.5, 1200, 41.5]


def test_points_of_typed_numbers_say_nothing_about_texts() -> None:
    assert read(["1,200", "41.5", "1.834"], WITH_TYPES) == [None, 41.5, 1.834]
    assert read(["1,200", "1,234.5"], WITH_TYPES) == [1200, 1234.5]
    assert read(["1,200", "1.834"], WITH_TYPES.with_mark("comma")) == [1.2, 1.834]


def test_numbers_in_doubt_are_marked_only_until_the_file_is_refused_anyway(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(written_numbers, "MOST_SET_ASIDE", 2)
    texts = [f"{number},200" for number in range(1, 8)]
    assert list(numbers_as_read({"value": texts}, BETWEEN_OTHERS)["value"]) == texts[:3]
    said = BETWEEN_OTHERS.with_mark("point")
    assert list(numbers_as_read({"value": texts}, said)["value"]) == texts


def test_the_stated_mark_counts_more_than_what_the_file_shows() -> None:
    assert read(["1,200", "12,5"], BETWEEN_OTHERS.with_mark("point")) == [1200, None]
    assert read(["1.200", "41.5"], BETWEEN_OTHERS.with_mark("comma")) == [1200, 41.5]
    assert BETWEEN_OTHERS.with_mark("") == BETWEEN_OTHERS
    with pytest.raises(BadInput, match="decimal mark cannot be ';'; write point or comma"):
        OURS.with_mark(";")


@given(
    st.floats(0.001, 9_999_999).map(lambda value: round(value, 3)),
    st.sampled_from(["point", "comma"]),
    st.booleans(),
)
def test_any_number_is_read_back_once_the_mark_is_stated(
    value: float, mark: str, grouped: bool
) -> None:
    text = f"{value:,.3f}" if grouped else f"{value:.3f}"
    if mark == "comma":
        text = text.translate(str.maketrans(",.", ".,"))
    assert read([text], BETWEEN_OTHERS.with_mark(mark)) == [value]


@pytest.fixture
def force(store: Store) -> Store:
    """A measure whose values go into the thousands."""
    save_measure(store, Measure("peak_force", "Peak force", "N", "higher", "efforts"), "tester")
    return store


def semicolons(*values: str, effort: int = 1) -> bytes:
    rows = [
        f"A1;2026-03-01T09:00;peak_force;{place};{value};0;0"
        for place, value in enumerate(values, start=effort)
    ]
    return "\n".join([";".join(COLUMNS), *rows]).encode()


def stored(store: Store) -> list[float]:
    return efforts(store, "peak_force")["value"].tolist()


def brought(store: Store, content: bytes, name: str = "x.csv", **said: str) -> ImportReport:
    return import_efforts(store, read_efforts(store, content, name, **said), "tester")


def test_rows_in_doubt_are_set_aside_with_both_readings_and_asked_about(force: Store) -> None:
    content = semicolons("1,200", "900")
    report = brought(force, content)
    assert (report.stored, report.known, report.set_aside, report.rows_read) == (1, 0, 1, 2)
    assert report.asked == {"decimal_mark"}
    aside = set_aside_rows(force)
    assert (aside["column"].tolist(), aside["value"].tolist()) == (["value"], ["1,200"])
    assert f"'1,200' {TWO_MEANINGS}" in aside["reason"][0]
    again = brought(force, content, decimal_mark="comma")
    assert (again.stored, again.known, again.set_aside, again.asked) == (1, 1, 0, frozenset())
    assert sorted(stored(force)) == [1.2, 900]


def test_a_file_that_shows_its_mark_asks_nothing(force: Store) -> None:
    assert brought(force, semicolons("1.200", "1.150,5")).set_aside == 0
    assert stored(force) == [1200, 1150.5]


def test_a_number_in_a_workbook_is_in_doubt_if_it_is_a_text(force: Store) -> None:
    book = openpyxl.Workbook()
    book.active.append(COLUMNS)
    for effort, value in enumerate(["1,200", 1.834, 1200], start=1):
        book.active.append(["A1", "2026-03-01T09:00", "peak_force", effort, value, 0, 0.5])
    content = io.BytesIO()
    book.save(content)
    assert brought(force, content.getvalue(), "x.xlsx").set_aside == 1
    assert stored(force) == [1.834, 1200]


def test_rows_corrected_on_the_page_are_read_as_they_were_shown(force: Store) -> None:
    """What the file settled stays settled; a number still in doubt is not stored."""
    brought(
        force,
        semicolons("1.200", "12,5").replace(
            b"A1;2026-03-01T09:00;peak_force;1", b"A7;2026-03-01T09:00;peak_force;1"
        ),
    )
    brought(force, semicolons("1,300", effort=5), "y.csv")
    rows = correctable_rows(force)
    assert rows["value"].tolist() == ["1,300 (1.3 or 1300)", "1200"]
    reports = store_corrected(force, rows.assign(athlete="A1"), "coach")
    assert [(report.stored, report.set_aside) for report in reports] == [(1, 0), (0, 1)]
    assert sorted(stored(force)) == [12.5, 1200]
    rows = correctable_rows(force).assign(value="1.300")
    store_corrected(force, rows, "coach")
    assert sorted(stored(force)) == [1.3, 12.5, 1200]


WIDE = ColumnMapping(
    {
        "athlete": Source("who"),
        "started_at": Source("when"),
        "measure": Source(fixed="peak_force"),
        "volume_before": Source("before"),
    },
    side_by_side=("f1", "f2"),
)


def wide(*cells: str, before: str = "0") -> RawTable:
    line = ";".join(["A1", "2026-03-01T09:00", before, *cells])
    return read_text_table(f"who;when;before;f1;f2\n{line}\n".encode(), "x.csv")


def test_a_mapping_can_state_the_decimal_mark(force: Store) -> None:
    comma = ColumnMapping(WIDE.sources, WIDE.side_by_side, decimal_mark="comma")
    assert mapping_from_json(mapping_to_json(comma)) == comma
    assert mapped(wide("1,200", "1.150"), comma, {}).frame["value"].tolist() == ["1.200", "1150"]
    before = mapping_to_json(comma).replace(', "decimal_mark": "comma"', "")
    assert mapping_from_json(before).decimal_mark == ""
    said = wide("1,200", "9").stated(decimal_mark="point")
    assert mapped(said, comma, {}).frame["value"].tolist() == ["1200", "9"]


def test_a_mapping_uses_all_the_columns_it_reads_to_settle_the_mark(force: Store) -> None:
    seen = mapped(wide("1,200", "12,5", before="1,500"), WIDE, {})
    assert seen.frame["value"].tolist() == ["1.200", "12.5"]
    assert seen.frame["volume_before"].tolist() == ["1.500", "2.5"]


def test_units_are_converted_only_for_numbers_that_are_not_in_doubt(force: Store) -> None:
    inches = ColumnMapping({**WIDE.sources, "value": Source(unit="in")}, WIDE.side_by_side)
    settled = mapped(wide("1,200", "0,5"), inches, {"peak_force": "cm"})
    assert [float(text) for text in settled.frame["value"]] == [3.048, 1.27]
    doubtful = mapped(wide("1,200", "500"), inches, {"peak_force": "cm"})
    check = check_rows(force, doubtful)
    assert (len(check.new), check.asked) == (1, {"decimal_mark"})
    assert f"'1,200' {TWO_MEANINGS}" in check.set_aside["reason"].tolist()[0]
    assert check.set_aside["row_text"].tolist() == ['A1,2026-03-01T09:00,0,"1,200",500']
