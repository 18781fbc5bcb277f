from __future__ import annotations

import hashlib
import io
import subprocess
import sys
from datetime import datetime
from zoneinfo import ZoneInfo

import openpyxl
import pandas as pd
import pytest

from db.errors import BadInput
from db.imports.effort_files import NEEDED, read_table
from db.imports.parsed_rows import parse_rows
from db.tables.text_tables import read_text_table
from tests.db.hostile_files import many, sheet, workbook

HEADER = ",".join(NEEDED)
ROW = "A1,2026-03-01T09:00,jump_height,1,41.5"


def cells_of(content: bytes, name: str = "efforts.csv") -> list[list[str]]:
    return read_table(content, name).frame.values.tolist()


def excel(*rows: list[object]) -> bytes:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()


def parquet(frame: pd.DataFrame) -> bytes:
    content = io.BytesIO()
    frame.to_parquet(content)
    return content.getvalue()


def test_openpyxl_is_not_loaded_for_a_csv_file() -> None:
    content = f"{HEADER}\n{ROW}".encode()
    code = (
        "import sys; from db.imports.effort_files import read_table; "
        f"read_table({content!r}, 'efforts.csv'); print('openpyxl' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"


def test_a_csv_file_is_read_as_text_with_its_lines_and_its_hash(tmp_path):
    content = f'{HEADER},note\n\n{ROW},"two\nlines"\n{ROW},\' x\n'.encode()
    path = tmp_path / "efforts.csv"
    path.write_bytes(content)
    table = read_table(path)
    assert (table.name, table.sha256) == ("efforts.csv", hashlib.sha256(content).hexdigest())
    assert table.frame.index.tolist() == [3, 5]
    assert table.frame["note"].tolist() == ["two\nlines", "' x"]
    assert table.row_texts([5]) == [f"{ROW},' x"]
    assert table.row_texts([5, 3]) == [f"{ROW},' x", f'{ROW},"two\nlines"']


@pytest.mark.parametrize(
    "content",
    [
        f"\ufeff{HEADER}\r\n{ROW}\r\n".encode(),
        f"{HEADER}\n{ROW}".encode(),
        f"{HEADER},,\n{ROW},,\n,,,,,,\n\n".encode(),
        f" {HEADER.upper().replace(',', ' , ')}\n{ROW}\n".encode(),
        f"{HEADER}\n{ROW}\n".replace(",", ";").encode(),
        f'{HEADER}\n"A1","2026-03-01T09:00","jump_height","1","41.5"\n'.encode(),
    ],
    ids=["bom", "no last newline", "empty cells", "spaced capitals", "semicolons", "quoted"],
)
def test_ways_of_writing_the_same_csv(content):
    assert cells_of(content) == [ROW.split(",")]


def test_a_decimal_comma_is_read_only_between_semicolons():
    semicolons = f"{HEADER};volume_before\nA1;2026-03-01T09:00;jump_height;1;41,5;2.5\n"
    parsed = parse_rows(read_table(semicolons.replace(",", ";", 4).encode(), "x.csv"))
    assert parsed.faults.clear.all()
    assert parsed.frame[["value", "volume_before"]].values.tolist() == [[41.5, 2.5]]
    quoted = f'{HEADER}\nA1,2026-03-01T09:00,jump_height,1,"1,5"\n'
    parsed = parse_rows(read_table(quoted.encode(), "x.csv"))
    assert parsed.faults.reason.tolist() == ["'1,5' is not a number; write one such as 41.5"]


def test_rows_that_do_not_fit_under_the_header_are_kept_apart():
    table = read_table(f"{HEADER}\n{ROW},more\nA1,2026-03-01T09:00\n{ROW}\n".encode(), "x.csv")
    assert table.frame.index.tolist() == [2, 3, 4]
    assert {line: broken.reason for line, broken in table.broken.items()} == {
        2: "the row has 6 cells and the header 5",
        3: "the row has 2 cells and the header 5",
    }
    assert table.row_texts([2, 3, 4]) == [f"{ROW},more", "A1,2026-03-01T09:00", ROW]


def test_an_excel_sheet_is_read_as_the_same_text():
    content = excel(
        [*NEEDED, "pain", "note", None],
        ["A1", datetime(2026, 3, 1, 9), "jump_height", 1, 41.5, True, None],
        [None, None],
        ["A1", "2026-03-01T09:00", "jump_height", 2.0, "41,5", False, "x"],
        ["A1", "2026-03-01T09:00", "jump_height", 3, 40, None, None, "over the edge"],
    )
    table = read_table(content, "efforts.XLSX")
    assert table.frame.index.tolist() == [2, 4, 5]
    assert table.frame.values.tolist()[:2] == [
        ["A1", "2026-03-01T09:00:00", "jump_height", "1", "41.5", "yes", ""],
        ["A1", "2026-03-01T09:00", "jump_height", "2", "41,5", "no", "x"],
    ]
    assert list(table.broken) == [5]


def test_a_parquet_file_is_read_as_the_same_text():
    frame = pd.DataFrame(
        {
            "athlete": pd.Categorical(["A1", "A1"]),
            "started_at": pd.to_datetime(["2026-03-01T09:00", None]),
            "measure": ["jump_height", None],
            "effort": [1, 2],
            "value": pd.array([41.5, None], dtype="Float32"),
            "volume_before": [0.1, float("nan")],
            "pain": [True, False],
        }
    )
    assert cells_of(parquet(frame), "x.parquet") == [
        ["A1", "2026-03-01T09:00:00", "jump_height", "1", "41.5", "0.1", "true"],
        ["A1", "", "", "2", "", "", "false"],
    ]
    frame["started_at"] = pd.Timestamp("2026-03-01T09:00", tz=ZoneInfo("Europe/Paris"))
    assert cells_of(parquet(frame), "x.parquet")[0][1] == "2026-03-01T09:00:00+01:00"


@pytest.mark.parametrize(
    ("content", "name", "sentence"),
    [
        (b"", "x.csv", "The file x.csv is empty"),
        (b"\n \n", "x.csv", "The file x.csv is empty"),
        (b"\xef\xbb\xbf", "x.csv", "x.csv has no rows"),
        (HEADER.encode(), "x.csv", "x.csv has no rows below its header"),
        (b"a,b", "x.pdf", r"cannot be read. Save it as CSV or text \(.csv, "),
        (b"a,b", "x", "of a kind that cannot be read"),
        (b"athlete,value\nA1,4\n", "x.csv", "lacks the column started_at, measure, effort. It has"),
        (f"{HEADER},Value\n{ROW},4\n".encode(), "x.csv", "has the column value more than once"),
        (f"{HEADER},,note\n{ROW},,x\n".encode(), "x.csv", "Column 6 .* has no name"),
        (f"{HEADER}\n{ROW}\n".encode("utf-16")[:-1], "x.csv", "begins as UTF-16 and breaks off"),
        (f"{HEADER},note\n{ROW},\xe9\n".encode("latin-1"), "x.csv", "not in UTF-8: line 2"),
        (f'{HEADER}\n{ROW}\n"A1,2026\n{ROW}\n'.encode(), "x.csv", "row that begins on line 3"),
        (b"PK not a zip", "x.xlsx", "cannot be read as Excel"),
        (b"PAR1 not parquet", "x.parquet", "cannot be read as Parquet"),
        (excel(), "x.xlsx", "has no rows below its header"),
    ],
)
def test_files_that_cannot_be_read(content, name, sentence):
    with pytest.raises(BadInput, match=sentence):
        read_table(content, name)


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(BadInput, match=r"none\.csv cannot be read: No such file"):
        read_table(tmp_path / "none.csv")


class Ended(BaseException):
    """Like what ends a page: not an `Exception`, so that nothing catches it."""


@pytest.mark.parametrize(
    ("content", "name", "looks"),
    [
        (b'a,b\n"1",2\n' + b"1,2\n" * 60_000, "x.csv", 4),
        (workbook(rows=sheet(many(b"<row><c><v>1</v></c></row>", 20_000))), "x.xlsx", 4),
        (parquet(pd.DataFrame({"a": [1], "b": [2], "c": [3]})), "x.parquet", 4),
    ],
    ids=["csv", "xlsx", "parquet"],
)
def test_the_progress_callback_can_stop_the_reading(content, name, looks):
    told = []

    def progress(share, what):
        told.append(share)
        if len(told) == looks:
            raise Ended

    with pytest.raises(Ended):
        read_text_table(content, name, progress=progress)
    assert told == sorted(told) and 0 <= told[0] <= told[-1] <= 1


def test_a_folder_and_an_endless_file_are_refused(tmp_path):
    folder = tmp_path / "season.csv"
    folder.mkdir()
    with pytest.raises(BadInput, match="season.csv is a folder. Name the files in it."):
        read_text_table(folder)
    (tmp_path / "endless.csv").symlink_to("/dev/zero")
    with pytest.raises(BadInput, match="endless.csv has at least 200,000,001 bytes"):
        read_text_table(tmp_path / "endless.csv")
    (tmp_path / "endless.pdf").symlink_to("/dev/zero")
    with pytest.raises(BadInput, match="of a kind that cannot be read"):
        read_text_table(tmp_path / "endless.pdf")
