"""Dates without a time of day, in every kind of file."""

from __future__ import annotations

import io
from datetime import date, datetime

import openpyxl
import pyarrow as pa
import pyarrow.parquet
import pytest

from db.efforts.rows import efforts
from db.errors import BadInput
from db.file.store import Store
from db.imports.corrections import correctable_rows, store_corrected
from db.imports.kept_mappings import read_efforts
from db.imports.mapped_tables import mapped
from db.imports.mappings import ColumnMapping, Source
from db.imports.past_imports import set_aside_rows
from db.imports.storing import ImportReport, import_efforts
from db.tables import written_starts
from db.tables.text_tables import read_text_table
from db.tables.written_starts import clock_of, starts_as_read

Starts = list[object]


def excel(starts: Starts, form: str = "") -> bytes:
    book = openpyxl.Workbook()
    book.active.append(["athlete", "started_at", "measure", "effort", "value", "kind"])
    for effort, start in enumerate(starts, start=1):
        book.active.append(["A1", start, "jump_height", effort, 40, "fade"])
        if form:
            book.active.cell(effort + 1, 2).number_format = form
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()


def parquet(starts: pa.Array | Starts) -> bytes:
    content = io.BytesIO()
    table = pa.table(
        {
            "athlete": ["A1"] * len(starts),
            "started_at": starts,
            "measure": ["jump_height"] * len(starts),
            "effort": list(range(1, len(starts) + 1)),
            "value": [40.0] * len(starts),
            "kind": ["fade"] * len(starts),
        }
    )
    pyarrow.parquet.write_table(table, content)
    return content.getvalue()


def csv(starts: Starts) -> bytes:
    rows = [f"A1,{start},jump_height,{place},40,fade" for place, start in enumerate(starts, 1)]
    return "\n".join(["athlete,started_at,measure,effort,value,kind", *rows]).encode()


DAYS = [date(2026, 3, 1), date(2026, 3, 2)]
MIDNIGHTS = [datetime(2026, 3, 1), datetime(2026, 3, 2)]
DATED = {
    "dates in csv": ("x.csv", csv(["2026-03-01", "2026-03-02"])),
    "midnights in csv": ("x.csv", csv(["2026-03-01 00:00:00", "2026-03-02 00:00:00"])),
    "midnights and a date in csv": ("x.csv", csv(["2026-03-01T00:00", "2026-03-02"])),
    "midnights of UTC in csv": ("x.csv", csv(["2026-03-01T00:00Z", "2026-03-02T00:00Z"])),
    "dates in excel": ("x.xlsx", excel(DAYS)),
    "days shown as dates in excel": ("x.xlsx", excel(MIDNIGHTS, "d mmm yyyy")),
    "days shown with hours in excel": ("x.xlsx", excel(MIDNIGHTS, "yyyy-mm-dd hh:mm")),
    "dates in parquet": ("x.parquet", parquet(pa.array(DAYS, pa.date32()))),
    "midnights in parquet": ("x.parquet", parquet(pa.array(MIDNIGHTS, pa.timestamp("ns")))),
    "midnights of UTC in parquet": (
        "x.parquet",
        parquet(pa.array(MIDNIGHTS, pa.timestamp("us", "UTC"))),
    ),
}


def brought(store: Store, content: bytes, name: str, **said: str) -> ImportReport:
    return import_efforts(store, read_efforts(store, content, name, **said), "tester")


def starts_in(store: Store) -> list[str]:
    return efforts(store, "jump_height")["started_at"].dt.strftime("%Y-%m-%d %H:%M:%S").tolist()


@pytest.mark.parametrize(("name", "content"), DATED.values(), ids=DATED.keys())
def test_a_date_without_a_time_is_set_aside_or_gets_the_stated_time(
    store: Store, name: str, content: bytes
) -> None:
    report = brought(store, content, name)
    assert (report.stored, report.set_aside, report.asked) == (0, 2, {"clock"})
    assert set(set_aside_rows(store)["column"]) == {"started_at"}
    assert set_aside_rows(store)["reason"].str.contains("has no time of day; write it as").all()
    said = brought(store, content, name, clock="7:30")
    assert (said.stored, said.set_aside, said.asked) == (2, 0, frozenset())
    assert starts_in(store) == ["2026-03-01 07:30:00", "2026-03-02 07:30:00"]
    assert brought(store, content, name, clock="07:30").known == 2


@pytest.mark.parametrize(("name", "content"), DATED.values(), ids=DATED.keys())
def test_midnight_can_be_stated(store: Store, name: str, content: bytes) -> None:
    assert brought(store, content, name, clock="00:00").stored == 2
    assert starts_in(store) == ["2026-03-01 00:00:00", "2026-03-02 00:00:00"]


MIXED = [datetime(2026, 3, 1), datetime(2026, 3, 2, 9, 30)]


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("x.csv", csv(["2026-03-01T00:00", "2026-03-02T09:30"])),
        ("x.xlsx", excel(MIXED, "yyyy-mm-dd hh:mm")),
        ("x.parquet", parquet(pa.array(MIXED, pa.timestamp("us")))),
    ],
    ids=["csv", "excel", "parquet"],
)
def test_one_midnight_among_other_times_is_a_midnight(
    store: Store, name: str, content: bytes
) -> None:
    assert brought(store, content, name, clock="18:00").stored == 2
    assert starts_in(store) == ["2026-03-01 00:00:00", "2026-03-02 09:30:00"]


def test_only_rows_without_a_time_get_the_stated_one(store: Store) -> None:
    shown_as_dates = excel([*DAYS[:1], datetime(2026, 3, 2, 9, 30)], "yyyy-mm-dd")
    report = brought(store, shown_as_dates, "x.xlsx")
    assert (report.stored, report.set_aside) == (1, 1)
    brought(store, shown_as_dates, "x.xlsx", clock="18:00")
    assert starts_in(store) == ["2026-03-01 18:00:00", "2026-03-02 09:30:00"]


def test_a_date_corrected_on_the_page_may_be_at_midnight(store: Store) -> None:
    """The row is shown as a date, so ticking it unchanged does not make it midnight."""
    brought(store, csv(["2026-03-01T00:00"]), "x.csv")
    rows = correctable_rows(store)
    assert rows["started_at"].tolist() == ["2026-03-01"]
    assert store_corrected(store, rows, "coach")[0].set_aside == 1
    rows = correctable_rows(store).assign(started_at="2026-03-01T00:00")
    assert store_corrected(store, rows, "coach")[0].stored == 1
    assert starts_in(store) == ["2026-03-01 00:00:00"]


SOURCES = {
    "athlete": Source("who"),
    "started_at": Source("day"),
    "measure": Source(fixed="jump_height"),
    "effort": Source("no"),
    "value": Source("cm"),
    "kind": Source(fixed="fade"),
}


@pytest.mark.parametrize(
    ("clock", "stored", "start"),
    [
        (None, 0, None),
        (Source(fixed="18:15"), 1, "2026-03-01 18:15:00"),
        (Source("hour"), 1, "2026-03-01 00:00:00"),
    ],
    ids=["none", "fixed", "a column"],
)
def test_a_mapping_can_give_the_time_of_day(
    store: Store, clock: Source | None, stored: int, start: str | None
) -> None:
    sources = SOURCES | ({"clock": clock} if clock else {})
    table = read_text_table(b"who,day,hour,no,cm\nA1,01.03.2026,0:00,1,40\n", "x.csv")
    seen = mapped(table, ColumnMapping(sources, time_form="day first"), {})
    assert import_efforts(store, seen, "tester").stored == stored
    assert starts_in(store) == [start] * stored


def test_a_line_with_an_empty_clock_keeps_only_its_date() -> None:
    content = b"who,day,hour,no,cm\nA1,01.03.2026,9:30,1,40\nA1,02.03.2026,,1,40\n"
    mapping = ColumnMapping(SOURCES | {"clock": Source("hour")}, time_form="day first")
    seen = mapped(read_text_table(content, "x.csv").stated(clock="18:00"), mapping, {})
    assert seen.frame["started_at"].tolist() == ["2026-03-01T09:30:00", "2026-03-02"]
    assert seen.clock == "18:00"


@pytest.mark.parametrize("text", ["", " ", "9:30", "09:30", "09:30:00"])
def test_times_of_day_that_are_understood(text: str) -> None:
    assert clock_of(text) == ("09:30" if text.strip() else "")


@pytest.mark.parametrize("text", ["25:00", "9", "half past nine", "9:30 pm"])
def test_times_of_day_that_are_not_understood(text: str) -> None:
    with pytest.raises(BadInput, match=f"'{text}' is not a time of day; write it as 09:30"):
        clock_of(text)


def test_starts_without_a_time_are_marked_only_until_the_file_is_refused_anyway(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(written_starts, "MOST_SET_ASIDE", 2)
    texts = [f"2026-03-0{day}T00:00" for day in range(1, 8)]
    assert list(starts_as_read(texts, "", times_said=False)) == texts[:3]
    assert list(starts_as_read(texts, "09:30", times_said=False)) == texts


def test_texts_that_are_not_dates_stay_as_they_are() -> None:
    texts = ["x", "2026-13-01", "", "2026-03-01", "2026-03-01T00:00"]
    assert starts_as_read(texts, "", times_said=False) == {"2026-03-01T00:00": "2026-03-01"}
    assert starts_as_read(texts, "", times_said=True) == {}
    assert starts_as_read(["x"], "09:30", times_said=False) == {}
    assert starts_as_read(["2026-03-01"], "09:30", times_said=True) == {
        "2026-03-01": "2026-03-01T09:30:00"
    }
