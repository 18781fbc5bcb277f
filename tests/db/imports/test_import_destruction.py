"""Files made to break an import: each is refused in a sentence, or every row is accounted for."""

from __future__ import annotations

import io
import random
import zipfile
from codecs import BOM_UTF16_BE, BOM_UTF16_LE
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from db.efforts.rows import efforts
from db.errors import BadInput
from db.file.checks import check
from db.file.store import Store
from db.imports.corrections import correctable_rows, store_corrected
from db.imports.effort_files import COLUMNS, read_table
from db.imports.mapped_tables import mapped
from db.imports.mappings import ColumnMapping, Source
from db.imports.past_imports import set_aside_rows
from db.imports.storing import check_rows, import_efforts
from db.tables import limits, text_files
from db.tables.text_tables import RawTable, read_text_table
from tests.db.conftest import HEADER

ROW = "A1,2026-03-01T09:00,jump_height,1,41.5,0"
ONCE = settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
SLOW = settings(ONCE, max_examples=12)
MOMENTS = "2026-03-29T02:30 2026-10-25T02:30+02:00 2026-10-25T02:30+01:00 2226-01-01T09:00".split()
NASTY = [
    *"A1 A2 jump_height 1 2 40 0 fade nan inf -inf -1 1e308 1e-320 0x10 ١ ½ 1,5 =cmd '=x".split(),
    *MOMENTS,
    *("=cmd|' /C calc'!A0", "+1+1", "@SUM(A1)", "9" * 400, "\u202etxt", "a\nb", 'a"b', " ", "é"),
    *("24:00", "2026-02-30T09:00", "2026-03-01T25:00", "0001-01-01T00:00", "1e9999", "-0", "_1"),
]


def written(rows: list[list[str]], delimiter: str = ",") -> bytes:
    """CSV with every cell in quotes, so that cells can hold any text."""
    quoted = [['"' + cell.replace('"', '""') + '"' for cell in row] for row in rows]
    return "\n".join(delimiter.join(row) for row in quoted).encode()


def account(store: Store, table: RawTable) -> None:
    """Import, and check that every row is stored, known, or set aside with line and reason."""
    report = import_efforts(store, table, "tester", add_athletes=True)
    assert report.rows_read == len(table.frame)
    assert report.stored + report.known + report.set_aside == report.rows_read
    aside = set_aside_rows(store, report.batch_id)
    assert len(aside) == report.set_aside
    assert set(aside["line"]) <= set(table.frame.index)
    assert aside["reason"].str.len().gt(5).all()
    assert set(aside["column"]) <= {*COLUMNS, "row"}


@SLOW
@given(
    columns=st.lists(st.sampled_from([*COLUMNS, "colour"]), unique=True, max_size=6),
    cells=st.lists(st.lists(st.sampled_from(NASTY), min_size=24, max_size=24), max_size=6),
    delimiter=st.sampled_from(",;\t"),
)
def test_any_cells_under_any_columns_are_accounted_for(
    store: Store, columns: list[str], cells: list[list[str]], delimiter: str
) -> None:
    header = list(dict.fromkeys([*HEADER.split(","), *columns]))
    rows = [header, ROW.split(",") + [""] * (len(header) - 6)]
    rows += [row[: len(header)] for row in cells]
    account(store, read_table(written(rows, delimiter), "any.csv"))
    assert check(store) == []


@ONCE
@given(content=st.binary(max_size=400), ending=st.sampled_from("csv tsv parquet xlsx xlsm".split()))
def test_any_bytes_are_read_or_refused_in_a_sentence(content: bytes, ending: str) -> None:
    refused_or_read(content, f"any.{ending}")


def refused_or_read(content: bytes, name: str) -> RawTable | None:
    try:
        table = read_text_table(content, name)
    except BadInput as refusal:
        assert name in refusal.message and refusal.message.endswith(".")
        return None
    assert table.frame.index.is_unique and len(table.frame) > 0
    return table


@ONCE
@given(
    st.lists(
        st.lists(st.text("A1é ,;\t.\r\n", max_size=4), min_size=1, max_size=4),
        min_size=2,
        max_size=8,
    ),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.sampled_from(",;\t"),
)
def test_the_quick_reader_reads_the_same_as_the_thorough_one(
    rows: list[list[str]], end: str, delimiter: str
) -> None:
    content = ("a" + delimiter + "b" + end + end.join(map(delimiter.join, rows))).encode()
    quick = text_files._plain_rows(content, "x.csv", delimiter)
    if quick is None:
        return
    slow = text_files._quoted_rows(content, "x.csv", delimiter)
    assert (quick.header, quick.lines.tolist()) == (slow.header, slow.lines.tolist())
    assert (quick.broken, quick.writing) == (slow.broken, slow.writing)
    assert [c.to_pylist() for c in quick.columns] == [c.to_pylist() for c in slow.columns]


def test_the_quick_reader_takes_only_plain_files() -> None:
    assert text_files._plain_rows(f"{HEADER}\n{ROW}\n".encode(), "x.csv", ",") is not None
    assert text_files._plain_rows(f'{HEADER}\n"{ROW}"\n'.encode(), "x.csv", ",") is None
    assert text_files._plain_rows(f"{HEADER}\n{ROW},more\n".encode(), "x.csv", ",") is None


def good_files() -> Iterator[tuple[str, bytes]]:
    header, row = HEADER.split(","), ROW.split(",")
    frame = pd.DataFrame([row] * 5, columns=header).assign(effort=range(1, 6), note="x")
    sheet, columns = io.BytesIO(), io.BytesIO()
    frame.to_excel(sheet, index=False)
    frame.to_parquet(columns)
    yield "good.csv", frame.to_csv(index=False).encode()
    yield "good.xlsx", sheet.getvalue()
    yield "good.parquet", columns.getvalue()


@pytest.mark.parametrize(("name", "content"), [*good_files()], ids=["csv", "xlsx", "parquet"])
def test_a_good_file_with_bytes_changed_at_random_is_read_or_refused(
    name: str, content: bytes
) -> None:
    chance = random.Random(name)
    outcomes = set()
    for _ in range(250):
        broken = bytearray(content)
        for _ in range(chance.randint(1, 4)):
            broken[chance.randrange(len(broken))] = chance.randrange(256)
        cut = chance.choice([len(broken), chance.randrange(len(broken))])
        outcomes.add(refused_or_read(bytes(broken[:cut]), name) is None)
    assert outcomes == {True, False}


@pytest.mark.parametrize(
    ("encoding", "line"),
    [("utf-16-le", 1), ("utf-32", 1), ("utf-32-be", 1), ("latin-1", 2), ("cp1252", 2)],
)
def test_another_encoding_is_refused_with_the_line(encoding: str, line: int) -> None:
    content = f"{HEADER},note\n{ROW},é\n".encode(encoding)
    with pytest.raises(BadInput, match=f"not in UTF-8: line {line} has a character of another"):
        read_text_table(content, "x.csv")


@pytest.mark.parametrize("order", ["le", "be"])
@pytest.mark.parametrize(("delimiter", "name"), [("\t", "x.txt"), (";", "x.csv"), (",", "x.csv")])
def test_unicode_text_of_a_spreadsheet_is_read(
    store: Store, order: str, delimiter: str, name: str
) -> None:
    rows = [f"{HEADER},note", f"{ROW},schnell é Ł 走", f"{ROW.replace(',1,', ',x,')},"]
    text = "\r\n".join(rows).replace(",", delimiter)
    mark = BOM_UTF16_LE if order == "le" else BOM_UTF16_BE
    table = read_table(mark + text.encode(f"utf-16-{order}"), name)
    account(store, table)
    assert efforts(store, "jump_height")["note"].tolist() == ["schnell é Ł 走"]
    assert set_aside_rows(store)[["line", "column"]].values.tolist() == [[3, "effort"]]
    quoted = mark + text.replace("x", '"x"').encode(f"utf-16-{order}")
    pd.testing.assert_frame_equal(read_table(quoted, name).frame, table.frame)


@pytest.mark.parametrize("odd", [b"\x41", b"\x00\xd8\x41\x00"], ids=["half", "lone surrogate"])
def test_unicode_text_that_is_cut_off_is_refused(odd: bytes) -> None:
    content = f"{HEADER}\n{ROW}\n".encode("utf-16") + odd
    with pytest.raises(BadInput, match="begins as UTF-16 and breaks off in byte"):
        read_table(content, "x.csv")


@ONCE
@given(
    content=st.text(max_size=200).map(lambda text: f"{HEADER}\n{ROW}\n{text}"),
    order=st.sampled_from(["le", "be"]),
)
def test_any_text_reads_the_same_in_utf_16_and_utf_8(content: str, order: str) -> None:
    mark = BOM_UTF16_LE if order == "le" else BOM_UTF16_BE
    wide, plain = (
        refused_or_read(encoded, "any.csv")
        for encoded in (mark + content.encode(f"utf-16-{order}"), content.encode())
    )
    assert (wide is None) == (plain is None)
    if wide is not None and plain is not None:
        pd.testing.assert_frame_equal(wide.frame, plain.frame)


def test_quoted_newlines_keep_the_line_on_which_a_row_begins(store: Store) -> None:
    text = f'{HEADER},note\n{ROW},"a\n\nb"\n{ROW.replace(",1,", ",x,")},"c\nd"\n{ROW},=cmd\n'
    table = read_table(text.encode(), "x.csv")
    account(store, table)
    assert set_aside_rows(store)[["line", "column"]].values.tolist() == [[5, "effort"], [7, "note"]]
    assert efforts(store, "jump_height")["note"].tolist() == ["a\n\nb"]


def test_a_wall_time_that_no_clock_showed_is_kept_as_written(store: Store) -> None:
    """Clocks in much of Europe change around 02:30 on these nights; the store keeps wall time."""
    rows = [ROW.replace("2026-03-01T09:00", moment) for moment in MOMENTS]
    account(store, read_table("\n".join([HEADER, *rows]).encode(), "x.csv"))
    starts = efforts(store, "jump_height")["started_at"].astype(str).tolist()
    assert sorted(set(starts)) == ["2026-03-29 02:30:00", "2026-10-25 02:30:00"]
    assert set_aside_rows(store)["line"].tolist() == [5]


def packed(frame: pd.DataFrame | pa.Table) -> bytes:
    content = io.BytesIO()
    table = frame if isinstance(frame, pa.Table) else pa.Table.from_pandas(frame)
    pyarrow.parquet.write_table(table, content, compression="zstd")
    return content.getvalue()


def test_a_parquet_file_that_unpacks_to_far_more_is_refused_before_it_is_read(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    many = packed(pa.table({"athlete": pa.array(np.zeros(limits.MOST_ROWS + 1, np.int8))}))
    assert len(many) < 100_000
    long_text = pa.DictionaryArray.from_arrays(np.zeros(20_000, np.int8), ["x" * 100_000])
    long = packed(pa.table({"athlete": long_text}))
    wide = packed(pa.table({f"c{place}": [1] for place in range(limits.MOST_COLUMNS + 1)}))
    with pytest.raises(BadInput, match="bytes when unpacked, and an import takes at most 200,"):
        read_text_table(long, "long.parquet")
    monkeypatch.setattr(pyarrow.parquet.ParquetFile, "read", None)
    with pytest.raises(BadInput, match="has 2,000,001 rows, and an import takes at most 2,000,000"):
        read_text_table(many, "many.parquet")
    with pytest.raises(BadInput, match="has 1,001 columns, and an import takes at most 1,000"):
        read_text_table(wide, "wide.parquet")
    monkeypatch.setattr(limits, "MOST_BYTES", 1_000_000)
    zeros = packed(pd.DataFrame({"value": np.zeros(500_000), "other": np.arange(500_000) * 1.0}))
    with pytest.raises(BadInput, match="bytes when unpacked, and an import takes at most 1,000,00"):
        read_text_table(zeros, "zeros.parquet")


def test_a_parquet_column_of_lists_is_refused() -> None:
    with pytest.raises(BadInput, match="column value of the file x.parquet has several values in"):
        read_text_table(packed(pa.table({"value": [[1.0, 2.0]]})), "x.parquet")


def test_a_sheet_that_unpacks_to_far_more_is_refused_before_it_is_read(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as sheet:
        sheet.writestr("xl/worksheets/sheet1.xml", b"0" * 3_000_000)
    monkeypatch.setattr(limits, "MOST_BYTES", 2_000_000)
    with pytest.raises(BadInput, match="has 3,000,000 bytes when unpacked, and an import takes at"):
        read_text_table(content.getvalue(), "bomb.xlsx")


@pytest.mark.parametrize("ending", ["csv", "parquet", "xlsx"])
def test_a_file_of_another_kind_than_its_name_says_is_refused(ending: str) -> None:
    for name, content in good_files():
        if not name.endswith(ending):
            with pytest.raises(BadInput, match=f"The file x.{ending} "):
                read_table(content, f"x.{ending}")


def test_a_text_that_a_spreadsheet_would_run_is_kept_as_text(store: Store) -> None:
    formula = "=cmd|' /C calc'!A0"
    table = read_table(written([[*HEADER.split(","), "note"], [*ROW.split(","), formula]]), "x.csv")
    account(store, table)
    account(store, read_table(f"{HEADER}\n{ROW.replace('A1', formula)}\n".encode(), "y.csv"))
    assert efforts(store, "jump_height")["note"].tolist() == [formula]
    assert set_aside_rows(store)["athlete"].tolist() == [formula]


@SLOW
@given(
    cells=st.lists(
        st.lists(st.sampled_from(NASTY), min_size=6, max_size=6), min_size=1, max_size=5
    ),
    form=st.sampled_from(["year first", "day first", "month first"]),
    unit=st.sampled_from(["in", "m", "ms", "°F"]),
)
def test_any_cells_read_by_a_mapping_are_accounted_for(
    store: Store, cells: list[list[str]], form: str, unit: str
) -> None:
    names = ["who", "when", "what", "hops", "j1", "j2"]
    sources = {
        "athlete": Source("who"),
        "started_at": Source("when"),
        "measure": Source("what"),
        "volume_before": Source("hops"),
        "value": Source(unit=unit),
    }
    table = read_text_table(written([names, ["A1"] * 6, *cells]), "any.csv")
    mapping = ColumnMapping(sources, side_by_side=("j1", "j2"), time_form=form)
    seen = mapped(table, mapping, {"jump_height": "cm", "sprint_10m": "s"}, f"{form} {unit}")
    account(store, seen)
    assert set(seen.frame.index) == set(table.frame.index)


@SLOW
@given(data=st.data())
def test_any_correction_of_rows_set_aside_is_accounted_for(
    store: Store, data: st.DataObject
) -> None:
    rows = correctable_rows(store)
    if rows.empty:
        account(store, read_table(f"{HEADER}\nA9,x,,,,\nA8,y,,,,\n".encode(), "faulty.csv"))
        rows = correctable_rows(store)
    for column in HEADER.split(","):
        rows[column] = data.draw(
            st.lists(st.sampled_from(NASTY), min_size=len(rows), max_size=len(rows))
        )
    reports = store_corrected(store, rows, "coach", add_athletes=True)
    assert sum(report.rows_read for report in reports) == len(rows)
    assert len(correctable_rows(store)) == sum(report.set_aside for report in reports)
    assert check(store) == []


def test_an_empty_and_a_header_only_file_of_each_kind_are_refused(tmp_path: Path) -> None:
    frame = pd.DataFrame(columns=HEADER.split(","))
    frame.to_csv(tmp_path / "x.csv", index=False)
    frame.to_excel(tmp_path / "x.xlsx", index=False)
    frame.to_parquet(tmp_path / "x.parquet")
    for path in tmp_path.iterdir():
        with pytest.raises(BadInput, match="has no rows below its header"):
            read_table(path)
        with pytest.raises(BadInput, match="is empty"):
            read_table(b"", path.name)


def test_a_check_of_a_file_with_every_row_faulty_names_each(store: Store) -> None:
    rows = [ROW.replace("41.5", bad) for bad in ("nan", "inf", "-inf", "-4", "1e400", "4e1O")]
    seen = check_rows(store, read_table("\n".join([HEADER, *rows]).encode(), "x.csv"))
    assert seen.set_aside["column"].tolist() == ["value"] * 6
    assert seen.set_aside["line"].tolist() == [2, 3, 4, 5, 6, 7]
