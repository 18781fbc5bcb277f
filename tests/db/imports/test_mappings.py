from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from db.efforts.rows import efforts
from db.errors import BadInput
from db.file.checks import check
from db.file.store import Store
from db.imports.corrections import correctable_rows
from db.imports.kept_mappings import (
    delete_mapping,
    get_mapping,
    list_mappings,
    mapped_by,
    rename_mapping,
    save_mapping,
)
from db.imports.mapped_tables import mapped
from db.imports.mappings import ColumnMapping, Source, mapping_from_json, mapping_to_json
from db.imports.parsed_rows import parse_rows
from db.imports.past_imports import import_batches
from db.imports.storing import import_efforts
from db.imports.units import UNITS, converted, units_like
from db.people.sight import Sight, in_sight
from db.roster.athletes import save_athletes
from db.tables import limits
from db.tables.text_tables import RawTable, read_text_table

UNITS_OF = {"jump_height": "cm", "throw_speed": "m/s", "sprint_10m": "s"}
PLAIN = {
    "athlete": Source("who"),
    "started_at": Source("when"),
    "measure": Source(fixed="jump_height"),
    "effort": Source("no"),
    "value": Source("height", unit="in"),
    "volume_before": Source("hops"),
}
WIDE = {name: PLAIN[name] for name in ("athlete", "started_at", "measure", "volume_before")}


def read(text: str, name: str = "other.csv") -> RawTable:
    return read_text_table(text.encode(), name)


# From the definitions: 1 in = 2.54 cm, 1 mile = 1609.344 m, 1 lb = 0.45359237 kg; the fixed
# points of water on both scales.
@pytest.mark.parametrize(
    ("text", "unit", "into", "result"),
    [
        ("16", "in", "cm", "40.64"),
        ("0.42", "m", "cm", "42.0"),
        ("415", "mm", "cm", "41.5"),
        ("108", "km/h", "m/s", "30.0"),
        ("60", "mph", "m/s", "26.8224"),
        ("1715", "ms", "s", "1.715"),
        ("212", "°F", "°C", "100.0"),
        ("32", "°F", "°C", "0.0"),
        ("-40", "°F", "°C", "-40.0"),
        ("100", "lb", "kg", "45.359237"),
        ("1.5", "h", "min", "90.0"),
        ("fast", "mph", "m/s", "fast"),
        ("1e999999999", "mph", "m/s", "1e999999999"),
        ("", "in", "cm", ""),
        ("41.50", "cm", "cm", "41.50"),
    ],
)
def test_units_are_converted_exactly(text: str, unit: str, into: str, result: str) -> None:
    assert converted(text, unit, into) == result


def test_converting_a_value_there_and_back_gives_the_same_to_rounding() -> None:
    for unit in UNITS:
        for other in units_like(unit):
            assert float(converted(converted("37.3", unit, other), other, unit)) == pytest.approx(
                37.3, rel=1e-14
            )


def test_a_file_is_read_with_our_columns_and_units_and_its_own_lines() -> None:
    table = read("who,when,no,height,hops,extra\n\nA1,2026-03-01 09:00,1,16,0,x\nA1,x,2,16,1,y\n")
    seen = mapped(table, ColumnMapping(PLAIN), UNITS_OF, "plate")
    assert seen.frame.index.tolist() == [3, 4]
    assert seen.frame.iloc[0].to_dict() == {
        "athlete": "A1",
        "started_at": "2026-03-01 09:00",
        "measure": "jump_height",
        "effort": "1",
        "value": "40.64",
        "volume_before": "0",
    }
    assert seen.name == "other.csv (plate)" and seen.sha256 != table.sha256
    assert seen.row_texts([4]) == ["A1,x,2,16,1,y"]
    assert parse_rows(seen).faults.column.tolist() == [None, "started_at"]


def test_efforts_side_by_side_become_rows_of_the_same_line() -> None:
    table = read(
        "who;when;hops;j1;j2;j3\nA1;2026-03-01 09:00;5;41,5;;42\nA2;2026-03-01 09:00;5;;;\n"
    )
    mapping = ColumnMapping(WIDE, side_by_side=("j1", "j2", "j3"))
    seen = mapped(table, mapping, UNITS_OF)
    assert seen.frame.index.tolist() == [2, 2, 3]
    columns = ["effort", "value", "volume_before"]
    assert seen.frame[columns].values.tolist() == [
        ["1", "41.5", "5"],
        ["3", "42", "7.0"],
        ["1", "", "5"],
    ]
    parsed = parse_rows(seen)
    assert parsed.faults.column.tolist() == [None, None, "value"]
    still = mapped(table, ColumnMapping(WIDE, ("j1", "j2", "j3"), volume_grows=False), UNITS_OF)
    assert set(still.frame["volume_before"]) == {"5"}


@pytest.mark.parametrize(
    ("form", "day", "clock", "start"),
    [
        ("day first", "03.02.2026 9:05", None, "2026-02-03T09:05:00"),
        ("month first", "2/3/2026 9:05:30 PM", None, "2026-02-03T21:05:30"),
        ("month first", "2/3/2026, 12:05 a.m.", None, "2026-02-03T00:05:00"),
        ("day first", "3-2-2026", "9:05", "2026-02-03T09:05:00"),
        ("year first", "2026-02-03T09:05+01:00", None, "2026-02-03T09:05+01:00"),
        ("year first", "2026-02-03 00:00:00", "1899-12-30T09:05:00", "2026-02-03T09:05:00"),
        ("day first", "31.02.2026 9:05", None, "2026-02-31T09:05:00"),
        ("day first", "someday", None, "someday"),
    ],
)
def test_ways_of_writing_a_start(form: str, day: str, clock: str | None, start: str) -> None:
    sources = PLAIN | ({"clock": Source("clock")} if clock else {})
    table = read(f'who,when,no,height,hops,clock\nA1,"{day}",1,16,0,{clock or ""}\n')
    seen = mapped(table, ColumnMapping(sources, time_form=form), UNITS_OF)
    assert seen.frame["started_at"].tolist() == [start]


def test_rows_in_a_unit_that_does_not_fit_the_measure_are_set_aside() -> None:
    table = read("who,when,what,no,height,hops\nA1,2026-03-01 09:00,sprint_10m,1,16,0\n")
    seen = mapped(table, ColumnMapping(PLAIN | {"measure": Source("what")}), UNITS_OF)
    faults = parse_rows(seen).faults
    assert faults.reason.tolist() == ["in cannot be turned into s, the unit of sprint_10m"]


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"sources": {"athlete": Source("who")}}, "does not say where started_at, measure, effort"),
        ({"sources": PLAIN | {"speed": Source("x")}}, "There is no column 'speed' to fill"),
        ({"sources": PLAIN | {"value": Source("x", unit="furlong")}}, "value cannot be in 'furl"),
        ({"sources": PLAIN | {"note": Source("x", unit="cm")}}, "note cannot be in 'cm'; it has"),
        ({"sources": PLAIN | {"ambient_c": Source("x", unit="kg")}}, "the units are °C, °F"),
        ({"sources": PLAIN | {"note": Source()}}, "must give note either a column"),
        ({"sources": PLAIN | {"note": Source("x", "y")}}, "must give note either a column"),
        ({"sources": PLAIN | {"athlete": Source(fixed="A1")}}, "athlete must come from a column"),
        ({"sources": PLAIN, "side_by_side": ("a", "b")}, "stand side by side, so effort cannot"),
        ({"sources": WIDE, "side_by_side": ("a", "a")}, "The column a is named twice"),
        ({"sources": PLAIN, "time_form": "backwards"}, "Dates cannot be written 'backwards'"),
    ],
)
def test_an_impossible_mapping_says_what_is_wrong(change: dict[str, Any], sentence: str) -> None:
    with pytest.raises(BadInput, match=sentence):
        ColumnMapping(**change)


def test_efforts_side_by_side_are_counted_before_each_gets_a_row(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    mapping = ColumnMapping(WIDE | {"value": Source()}, ("j1", "j2"))
    table = read("who,when,hops,j1,j2\n" + "A1,2026-03-01 09:00,5,41,43\n" * 2)
    monkeypatch.setattr(limits, "MOST_ROWS", 4)
    assert len(mapped(table, mapping, UNITS_OF).frame) == 4
    monkeypatch.setattr(limits, "MOST_ROWS", 3)
    with pytest.raises(BadInput, match="has 4 rows, and an import takes at most 3. Divide it"):
        mapped(table, mapping, UNITS_OF)


def test_a_file_without_a_mapped_column_is_refused() -> None:
    with pytest.raises(BadInput, match=r"no column 'hops', which the mapping names. It has who, w"):
        mapped(read("who,when,no,height\nA1,x,1,16\n"), ColumnMapping(PLAIN), UNITS_OF)


def test_a_mapping_comes_back_from_json_and_other_json_is_refused() -> None:
    mapping = ColumnMapping(WIDE | {"value": Source(unit="in")}, ("j1", "j2"), False, "month first")
    assert mapping_from_json(mapping_to_json(mapping)) == mapping
    with pytest.raises(BadInput, match="The mapping cannot be read. Make it again"):
        mapping_from_json('{"sources": 3}')


def test_a_mapping_is_saved_under_a_name_and_saved_again(store: Store) -> None:
    mapping = ColumnMapping(PLAIN)
    save_mapping(store, " plate ", ColumnMapping(PLAIN, time_form="day first"), "tester")
    save_mapping(store, "plate", mapping, "tester")
    assert list_mappings(store) == ["plate"]
    assert get_mapping(store, "plate") == mapping
    with pytest.raises(BadInput, match="There is no mapping 'gate'. Saved are: plate"):
        get_mapping(store, "gate")
    with pytest.raises(BadInput, match="needs a name of 1 to 60 characters"):
        save_mapping(store, " ", mapping, "tester")


def test_every_effort_that_a_mapping_reads_is_accounted_for(store: Store) -> None:
    text = "who,when,hops,j1,j2\nA1,2026-03-01 09:00,5,0.41,0.43\nA9,2026-03-01 09:00,5,0.4,0.4\n"
    sources = WIDE | {"value": Source(unit="m")}
    table = mapped_by(store, read(text), ColumnMapping(sources, ("j1", "j2")), "wide")
    report = import_efforts(store, table, "tester")
    assert (report.rows_read, report.stored, report.set_aside) == (4, 2, 2)
    stored = efforts(store, "jump_height")
    assert stored[["effort", "value", "volume"]].values.tolist() == [[1, 41, 5], [2, 43, 6]]
    aside = correctable_rows(store)
    assert aside[["line", "place", "effort", "value"]].values.tolist() == [
        [3, 1, "1", "40.0"],
        [3, 2, "2", "40.0"],
    ]
    again = import_efforts(store, table, "tester")
    assert (again.stored, again.known, again.set_aside) == (0, 2, 2)
    assert check(store) == []


def test_the_same_file_read_differently_is_another_import(store: Store) -> None:
    table = read("who,when,no,height,hops,best\nA1,2026-03-01 09:00,1,16,0,1.9\n")
    import_efforts(store, mapped_by(store, table, ColumnMapping(PLAIN), "one"), "tester")
    other = PLAIN | {"measure": Source(fixed="sprint_10m"), "value": Source("best")}
    report = import_efforts(store, mapped_by(store, table, ColumnMapping(other), "two"), "tester")
    assert report.stored == 1
    wrong = PLAIN | {"started_at": Source("when"), "value": Source("height", unit="ft")}
    again = import_efforts(store, mapped_by(store, table, ColumnMapping(wrong), "one"), "tester")
    assert (again.stored, again.set_aside) == (0, 1)


def test_an_excel_sheet_is_mapped_too(tmp_path: Path) -> None:
    path = tmp_path / "plate.xlsx"
    pd.DataFrame(
        {"Who": ["A1"], "When": [pd.Timestamp("2026-03-01 09:00")], "j1": [0.4], "j2": [0.5]}
    ).to_excel(path, index=False)
    sources = {name: WIDE[name] for name in ("athlete", "started_at", "measure")}
    mapping = ColumnMapping(sources | {"value": Source(unit="m")}, ("J1", "J2"))
    seen = mapped(read_text_table(path), mapping, UNITS_OF)
    assert seen.frame["value"].tolist() == ["40.0", "50.0"]


NAMES = """who,when,what,no,height,hops
Smith J,2026-03-01 09:00,Jump,1,40,0
A2,2026-03-01 09:00,Jump,1,41,0
"""
CODED = PLAIN | {
    "athlete": Source("who", codes={"Smith J": "A1"}),
    "measure": Source("what", codes={"Jump": "jump_height"}),
    "value": Source("height"),
}


def test_names_in_a_file_are_read_as_our_codes(store: Store) -> None:
    save_mapping(store, "names", ColumnMapping(CODED), "tester")
    assert get_mapping(store, "names") == ColumnMapping(CODED)
    table = mapped_by(store, read(NAMES), get_mapping(store, "names"), "names")
    assert table.frame[["athlete", "measure"]].values.tolist() == [
        ["A1", "jump_height"],
        ["A2", "jump_height"],
    ]
    assert import_efforts(store, table, "tester").stored == 2
    assert check(store) == []


@pytest.mark.parametrize(
    ("name", "source"),
    [("note", Source("x", codes={"a": "b"})), ("measure", Source(fixed="m", codes={"a": "b"}))],
)
def test_only_athletes_and_measures_can_be_translated_into_codes(name: str, source: Source) -> None:
    with pytest.raises(BadInput, match=f"{name} cannot have names translated into codes; only ath"):
        ColumnMapping(CODED | {name: source})


def test_only_those_who_see_an_athlete_see_their_name_in_a_mapping(store: Store) -> None:
    both = {"Smith J": "A1", "Brown K": "A2"}
    save_mapping(store, "names", ColumnMapping(CODED).with_athletes(both), "tester")
    frame = pd.DataFrame({"athlete": ["A1", "A2"], "squad": ["First", "Youth"]})
    save_athletes(store, frame, "tester")
    hers = in_sight(store, Sight("yara", None, ("First",)))
    seen = get_mapping(hers, "names")
    assert seen.sources["athlete"].codes == {"Smith J": "A1"}
    save_mapping(hers, "names", seen.with_athletes({"J Smith": "A1"}), "yara")
    kept = get_mapping(store, "names").sources["athlete"].codes
    assert kept == {"J Smith": "A1", "Brown K": "A2"}
    with store.reading() as cursor:
        saved = cursor.execute("SELECT mapping_json FROM mapping").fetchall()
    assert "Smith" not in str(saved) and "Brown" not in str(saved)


def test_a_mapping_is_renamed_and_deleted_and_its_imports_keep_their_record(store: Store) -> None:
    for name in ("plate", "gate"):
        save_mapping(store, name, ColumnMapping(CODED), "tester")
    import_efforts(store, mapped_by(store, read(NAMES), ColumnMapping(CODED), "plate"), "tester")
    before = import_batches(store)
    with pytest.raises(BadInput, match="There is a mapping 'gate' already. Choose another name"):
        rename_mapping(store, "plate", "gate", "tester")
    with pytest.raises(BadInput, match="needs a name of 1 to 60 characters"):
        rename_mapping(store, "plate", " ", "tester")
    rename_mapping(store, "plate", " jumps ", "tester")
    assert get_mapping(store, "jumps") == ColumnMapping(CODED)
    delete_mapping(store, "jumps", "tester")
    delete_mapping(store, "gate", "tester")
    assert list_mappings(store) == []
    for change in (lambda: delete_mapping(store, "plate", "t"), lambda: get_mapping(store, "gate")):
        with pytest.raises(BadInput, match="There is no mapping '.*'. Saved are: none"):
            change()
    pd.testing.assert_frame_equal(import_batches(store), before)
    assert before["file"].tolist() == ["other.csv (plate)"]
    assert check(store) == []
