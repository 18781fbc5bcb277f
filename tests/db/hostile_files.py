"""Files that are small, or claim to be, and would take all memory or all day to read."""

from __future__ import annotations

import gzip
import io
import struct
import zipfile
from collections.abc import Callable, Iterable, Iterator
from itertools import repeat

import numpy as np
import pyarrow as pa
import pyarrow.parquet

from db.tables.limits import MOST_ROWS

HEADER = "athlete,started_at,measure,effort,value"
ROW = "A1,2026-03-01T09:00,jump_height,1,41.5"
PLAIN_CELL = '<c r="{}" t="str"><v>{}</v></c>'
_MILLION = 1_000_000
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"
_KIND = "application/vnd.openxmlformats-officedocument.spreadsheetml"
_CONTENT_TYPES = (
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" '
    'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="xml" ContentType="application/xml"/>'
    f'<Override PartName="/xl/workbook.xml" ContentType="{_KIND}.sheet.main+xml"/>'
    f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{_KIND}.worksheet+xml"/>'
    f'<Override PartName="/xl/sharedStrings.xml" ContentType="{_KIND}.sharedStrings+xml"/>'
    f'<Override PartName="/xl/styles.xml" ContentType="{_KIND}.styles+xml"/></Types>'
)
Part = bytes | Iterable[bytes]


def relations(*targets: tuple[str, str]) -> bytes:
    """The list of a workbook part's references, by kind and target."""
    listed = "".join(
        f'<Relationship Id="r{place}" Type="{_OFFICE}/{kind}" Target="{target}"/>'
        for place, (kind, target) in enumerate(targets, start=1)
    )
    return f'<Relationships xmlns="{_PACKAGE}">{listed}</Relationships>'.encode()


def sheet_list(*names: str) -> bytes:
    """The list of a workbook's sheets."""
    listed = "".join(
        f'<sheet name="{name}" sheetId="{place}" r:id="r{place}"/>'
        for place, name in enumerate(names, start=1)
    )
    return (
        f'<workbook xmlns="{_MAIN}" xmlns:r="{_OFFICE}"><sheets>{listed}</sheets></workbook>'
    ).encode()


def sheet(*rows: Part) -> Iterator[bytes]:
    """A sheet around the XML of its rows."""
    yield f'<worksheet xmlns="{_MAIN}"><sheetData>'.encode()
    for row in rows:
        yield from [row] if isinstance(row, bytes) else row
    yield b"</sheetData></worksheet>"


def plain_row(line: int, cells: str) -> bytes:
    """A row of a sheet with texts from column A."""
    written = "".join(
        PLAIN_CELL.format(f"{letter}{line}", cell)
        for letter, cell in zip("ABCDEFGH", cells.split(","), strict=False)
    )
    return f'<row r="{line}">{written}</row>'.encode()


def workbook(method: int = zipfile.ZIP_DEFLATED, **parts: Part) -> bytes:
    """A workbook of one sheet; `parts` replace its parts, by the short names below."""
    whole: dict[str, Part] = {
        "[Content_Types].xml": _CONTENT_TYPES.encode(),
        "_rels/.rels": relations(("officeDocument", "xl/workbook.xml")),
        "xl/workbook.xml": sheet_list("Efforts"),
        "xl/_rels/workbook.xml.rels": relations(
            ("worksheet", "worksheets/sheet1.xml"),
            ("sharedStrings", "sharedStrings.xml"),
            ("styles", "styles.xml"),
        ),
        "xl/sharedStrings.xml": f'<sst xmlns="{_MAIN}"/>'.encode(),
        "xl/styles.xml": f'<styleSheet xmlns="{_MAIN}"/>'.encode(),
        "xl/worksheets/sheet1.xml": sheet(plain_row(1, HEADER), plain_row(2, ROW)),
    }
    names = {
        "book": "xl/workbook.xml",
        "book_relations": "xl/_rels/workbook.xml.rels",
        "strings": "xl/sharedStrings.xml",
        "styles": "xl/styles.xml",
        "rows": "xl/worksheets/sheet1.xml",
    }
    whole |= {names.get(name, name): part for name, part in parts.items()}
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", method) as archive:
        for name, part in whole.items():
            with archive.open(name, "w", force_zip64=True) as file:
                for piece in [part] if isinstance(part, bytes) else part:
                    file.write(piece)
    return content.getvalue()


def many(what: bytes, count: int) -> Iterator[bytes]:
    """The same bytes many times over, in large pieces."""
    each = 10_000
    yield from repeat(what * each, count // each)
    yield what * (count % each)


def two_rows_far_apart() -> bytes:
    """Rows 1 and 2,000,000,000."""
    return workbook(rows=sheet(plain_row(1, HEADER), plain_row(2_000_000_000, ROW)))


def only_the_last_column(rows: int = 20_000) -> bytes:
    """Rows with only the last possible cell of a sheet filled."""
    cells = "".join(
        f'<row r="{line}"><c r="XFD{line}"><v>1</v></c></row>' for line in range(1, rows + 1)
    )
    return workbook(rows=sheet(cells.encode()))


def unpacks_to_gigabytes(size: int = 2**31) -> bytes:
    """A sheet of blanks."""
    return workbook(rows=sheet(many(b" ", size)))


def shared_texts(count: int = 20 * _MILLION) -> bytes:
    """A list of texts that no cell needs."""
    listed = many(b"<si><t/></si>", count)
    return workbook(strings=_around("sst", listed))


def long_shared_texts(count: int = 7_000, length: int = 32_000) -> bytes:
    """A list of the longest texts that are allowed."""
    listed = many(b"<si><t>" + b"x" * length + b"</t></si>", count)
    return workbook(strings=_around("sst", listed))


def styles(count: int = 10 * _MILLION) -> bytes:
    """A list of formats that no cell needs."""
    return workbook(styles=_around("styleSheet", many(b"<xf/>", count), "cellXfs"))


def sheets(count: int = 50_000) -> bytes:
    """More sheets than anybody makes."""
    return workbook(
        book=sheet_list(*(f"S{place}" for place in range(count))),
        book_relations=relations(*[("worksheet", "worksheets/sheet1.xml")] * count),
    )


def parts(count: int = 300_000) -> bytes:
    """An archive whose directory lists many empty parts."""
    entry = struct.pack(
        "<4s4B4HL2L5H2L", b"PK\x01\x02", 20, 3, 20, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0
    )
    listed = (entry + b"x") * count
    end = struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, 65_535, 65_535, len(listed), 0, 0)
    return b"PK\x03\x04" + listed + end


def nested(depth: int = 20 * _MILLION) -> bytes:
    """Elements within elements."""
    return workbook(rows=sheet(many(b"<a>", depth)))


def one_long_cell(length: int = 200 * _MILLION) -> bytes:
    """A cell with a text of many megabytes."""
    text = [b'<row r="1"><c t="inlineStr"><is><t>', *many(b"x", length), b"</t></is></c></row>"]
    return workbook(rows=sheet(text))


def one_long_tag(length: int = 200 * _MILLION) -> bytes:
    """A tag of many megabytes."""
    return workbook(rows=sheet([b'<row r="1" spans="', *many(b"x", length), b'"></row>']))


def one_long_remark(length: int = 200 * _MILLION) -> bytes:
    """A remark of many megabytes."""
    return workbook(rows=sheet([b"<!--", *many(b"x", length), b"-->"]))


def merged_ranges(count: int = 11 * _MILLION) -> bytes:
    """Merged ranges of cells under an ordinary table."""
    rows = list(sheet(plain_row(1, HEADER), plain_row(2, ROW)))
    rows[-1] = b"</sheetData><mergeCells>"
    ranges = many(b'<mergeCell ref="A1:B2"/>', count)
    return workbook(rows=[*rows, *ranges, b"</mergeCells></worksheet>"])


def empty_cells(count: int = 60 * _MILLION) -> bytes:
    """Cells that are there and hold nothing."""
    row = b"<row>" + b"<c/>" * 500 + b"</row>"
    return workbook(rows=sheet(many(row, count // 500)))


def full_cells(count: int = 15 * _MILLION) -> bytes:
    """More cells than an import takes, each with a number."""
    row = b"<row>" + b"<c><v>1</v></c>" * 500 + b"</row>"
    return workbook(rows=sheet(many(row, count // 500)))


def long_numbers(count: int = 60_000) -> bytes:
    """Numbers of thousands of digits, all different."""
    rows = (b"<row><c><v>" + b"9" * 4_000 + b"%05d</v></c></row>" % place for place in range(count))
    return workbook(rows=sheet(*rows))


def one_text_many_times(count: int = 2 * _MILLION - 500, length: int = 32_000) -> bytes:
    """Cells that all refer to the same long text."""
    row = b"<row>" + b'<c t="s"><v>0</v></c>' * 500 + b"</row>"
    return workbook(
        strings=_around("sst", [b"<si><t>", b"x" * length, b"</t></si>"]),
        rows=sheet(many(row, count // 500)),
    )


def crowded_tags(count: int = 20 * _MILLION) -> bytes:
    """Rows with a thousand attributes each."""
    said = b" ".join(b'a%d="1"' % place for place in range(1_000))
    return workbook(rows=sheet(many(b"<row " + said + b"/>", count // 1_000)))


def one_part_many_times(count: int = 9_000) -> bytes:
    """Parts that all unpack the same bytes."""
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b" " * 2**20)
    first, end = (content.getvalue().index(sign) for sign in (b"PK\x01\x02", b"PK\x05\x06"))
    part, listed = content.getvalue()[:first], content.getvalue()[first:end] * count
    tail = struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, count, count, len(listed), first, 0)
    return part + listed + tail


def text_in_disguise() -> bytes:
    """Plain text named as another kind of file."""
    return f"{HEADER}\n{ROW}\n".encode()


def entities() -> bytes:
    """Ten entities, each ten times the one before."""
    declared = '<!ENTITY a0 "x">' + "".join(
        f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 11)
    )
    rows = list(sheet(b"<row><c><v>&a10;</v></c></row>"))
    return workbook(rows=[f"<!DOCTYPE x [{declared}]>".encode(), *rows])


def outside_entity() -> bytes:
    """An entity that stands for a file of this machine."""
    rows = list(sheet(b"<row><c><v>&file;</v></c></row>"))
    return workbook(rows=[b'<!DOCTYPE x [<!ENTITY file SYSTEM "file:///etc/passwd">]>', *rows])


def hungry_packing() -> bytes:
    """A part whose compression asks for four gigabytes before it unpacks anything."""
    content = workbook(method=zipfile.ZIP_LZMA)
    return content.replace(b"\x05\x00\x5d\x00\x00\x80\x00", b"\x05\x00\x5d\xff\xff\xff\xff")


def parquet(table: pa.Table, **settings: object) -> bytes:
    """A table as well-compressed Parquet."""
    content = io.BytesIO()
    pyarrow.parquet.write_table(table, content, compression="zstd", **settings)
    return content.getvalue()


def cells_of_nothing(rows: int = _MILLION, columns: int = 100) -> bytes:
    """Many cells, all zero, that pack to almost nothing."""
    zeros = pa.array(np.zeros(rows, np.int8))
    return parquet(pa.table([zeros] * columns, [f"c{place}" for place in range(columns)]))


def repeated_text(rows: int = 20_000, length: int = 100_000) -> bytes:
    """One long text that every row refers to by number."""
    return parquet(
        pa.table(
            {"athlete": pa.DictionaryArray.from_arrays(np.zeros(rows, np.int8), ["x" * length])}
        )
    )


def shared_prefixes(rows: int = 400, length: int = 600_000) -> bytes:
    """Texts written as the length of what they share with the one before."""
    texts = pa.array([f"{'x' * length}{row}" for row in range(rows)])
    return parquet(
        pa.table({"athlete": texts}),
        use_dictionary=False,
        column_encoding={"athlete": "DELTA_BYTE_ARRAY"},
        data_page_size=2**30,
        write_statistics=False,
    )


def long_text(length: int = 250 * _MILLION) -> bytes:
    """One cell of hundreds of megabytes."""
    table = pa.table({"athlete": ["x" * length]})
    return parquet(table, use_dictionary=False, write_statistics=False)


def long_texts(count: int = 200, length: int = _MILLION) -> bytes:
    """Cells of a megabyte each."""
    return parquet(pa.table({"athlete": [f"{'x' * length}{place}" for place in range(count)]}))


def nested_columns() -> bytes:
    """Lists in lists in a cell."""
    return parquet(pa.table({"value": [[[1.0] * 100] * 100]}))


def described_columns(columns: int = 300_000) -> bytes:
    """Many columns and no rows."""
    content = io.BytesIO()
    schema = pa.schema([(f"{place:x}", pa.int32()) for place in range(columns)])
    pyarrow.parquet.ParquetWriter(content, schema, store_schema=False).close()
    return content.getvalue()


def long_description(length: int = 20 * _MILLION) -> bytes:
    """A file with megabytes of metadata."""
    table = pa.table({"athlete": ["A1"]}).replace_schema_metadata({"x": "y" * length})
    return parquet(table)


def false_sizes(length: int = 300 * _MILLION) -> bytes:
    """A page of hundreds of megabytes in a file that claims to have one byte."""
    content = parquet(
        pa.table({"athlete": ["x" * length]}), use_dictionary=False, write_statistics=False
    )
    column = pyarrow.parquet.ParquetFile(io.BytesIO(content)).metadata.row_group(0).column(0)
    return _said_instead(content, column.total_uncompressed_size, 1)


def false_rows(rows: int = 8 * _MILLION) -> bytes:
    """Millions of rows in groups, in a file that claims to have two."""
    content = parquet(
        pa.table({"athlete": pa.array(np.zeros(rows, np.int8))}), row_group_size=rows // 2
    )
    return _said_instead(content, rows, 2)


def many_pages(pages: int = 400_000) -> bytes:
    """A page for each row."""
    values = pa.array(np.arange(pages))
    return parquet(
        pa.table({"value": values}),
        use_dictionary=False,
        data_page_size=1,
        write_batch_size=1,
        write_statistics=False,
    )


def commas(count: int = 5 * _MILLION) -> bytes:
    """A header of nothing but commas."""
    return b"," * count + b"\n1\n"


def wide_header(columns: int = 50_000, lines: int = 20_000) -> bytes:
    """A header of many columns over lines of one cell."""
    return ",".join(f"c{place}" for place in range(columns)).encode() + b"\n1" * lines


def short_lines(columns: int = 1_000, lines: int = 3 * _MILLION) -> bytes:
    """Lines of one cell under the widest header that is allowed."""
    return ",".join(f"c{place}" for place in range(columns)).encode() + b"\n1" * lines


def short_quoted_lines(columns: int = 1_000, lines: int = 3 * _MILLION) -> bytes:
    """The same under a quoted header, so each line must be parsed."""
    return ",".join(f'"c{place}"' for place in range(columns)).encode() + b"\n1" * lines


def broken_lines(lines: int = 4 * _MILLION) -> bytes:
    """Rows that all lack a cell."""
    return HEADER.encode() + b'\n"A1",2026-03-01T09:00,jump_height,1' * lines


def commas_below(lines: int = 240, count: int = _MILLION) -> bytes:
    """Rows of a million empty cells under an ordinary header."""
    return f'"{HEADER}"\n'.encode() + (b"," * count + b"\n") * lines


def endless_quote(length: int = 200 * _MILLION) -> bytes:
    """A quote that never closes."""
    return f'{HEADER}\n{ROW}\n"'.encode() + b"x" * length


def endless_quoted_lines(lines: int = 20 * _MILLION) -> bytes:
    """One row of cells that each hold a line break."""
    return f"{HEADER}\n{ROW}\n".encode() + b'"\n",' * lines


def endless_line(length: int = 200 * _MILLION) -> bytes:
    """A line that never ends."""
    return f"{HEADER}\n{ROW}\n".encode() + b"x" * length


def blank_lines(count: int = 200 * _MILLION) -> bytes:
    """Lines with nothing in them."""
    return f"{HEADER}\n{ROW}\n".encode() + b"\n" * count


def blank_returns(count: int = 200 * _MILLION) -> bytes:
    """Blank lines that end in carriage returns, as on old computers."""
    return f"{HEADER}\r{ROW}\r".encode() + b"\r" * count


def zeros(count: int = 200 * _MILLION) -> bytes:
    """NUL bytes, as in a file that was never written."""
    return f"{HEADER}\n{ROW}\n".encode() + bytes(count)


def wide_signs(count: int = 120 * _MILLION) -> bytes:
    """An endless line of UTF-16 characters that take more room in UTF-8."""
    return f"{HEADER}\n{ROW}\n".encode("utf-16") + "走".encode("utf-16-le") * count


def wide_blank_lines(count: int = 120 * _MILLION) -> bytes:
    """Blank lines in UTF-16."""
    return f"{HEADER}\n{ROW}\n".encode("utf-16") + "\n".encode("utf-16-le") * count


def packed(length: int = 300 * _MILLION) -> bytes:
    """A compressed file named as a text file."""
    return gzip.compress(b"x" * length, 1)


def other_encoding(lines: int = 3 * _MILLION) -> bytes:
    """Text in an old encoding."""
    return f"{HEADER}\n".encode() + f"{ROW}, Jörg\n".encode("latin-1") * lines


def too_many_bytes(count: int = 300 * _MILLION) -> bytes:
    """A text file that is ordinary except for its size."""
    return f"{HEADER}\n".encode() + f"{ROW}\n".encode() * (count // len(ROW))


def one_cell_rows(rows: int = _MILLION) -> bytes:
    """Rows with only the first cell filled, under an ordinary header."""
    return workbook(rows=sheet(plain_row(1, HEADER), many(b"<row><c><v>1</v></c></row>", rows)))


def efforts(rows: int, **instead: object) -> bytes:
    """Efforts as Parquet, all the same except in the columns given."""
    said = dict(zip(HEADER.split(","), ROW.split(","), strict=True)) | instead
    columns = {
        name: pa.DictionaryArray.from_arrays(np.zeros(rows, np.int8), [text])
        if isinstance(text, str)
        else text
        for name, text in said.items()
    }
    return parquet(pa.table(columns))


def equal_wrong_rows(rows: int = MOST_ROWS) -> bytes:
    """The same wrong row again and again."""
    return efforts(rows, measure="nothing")


def equal_right_rows(rows: int = MOST_ROWS) -> bytes:
    """The same effort again and again, with nothing wrong in it."""
    return efforts(rows, kind="fade")


def booleans(rows: int = MOST_ROWS) -> bytes:
    """Columns of booleans."""
    return parquet(pa.table(dict.fromkeys(HEADER.split(","), pa.array(np.ones(rows, bool)))))


def times_of_day(rows: int = MOST_ROWS) -> bytes:
    """Columns of times of day."""
    times = pa.array(np.arange(rows), pa.time64("us"))
    return parquet(pa.table(dict.fromkeys(HEADER.split(","), times)))


def moments(rows: int = MOST_ROWS) -> bytes:
    """Columns of moments, all different."""
    times = pa.array(np.arange(rows), pa.timestamp("us"))
    return parquet(pa.table(dict.fromkeys(HEADER.split(","), times)))


def dates(rows: int = MOST_ROWS) -> bytes:
    """Starts without a time of day."""
    return efforts(rows, effort=pa.array(np.arange(rows) % 9_999 + 1), started_at="2026-03-01")


def midnights(rows: int = MOST_ROWS) -> bytes:
    """Starts that are all at midnight, as written by programs that save no time of day."""
    days = pa.array((np.arange(rows) % 20_000).astype("datetime64[D]").astype("datetime64[s]"))
    effort = pa.array(np.arange(rows) // 20_000 + 1)
    return efforts(rows, started_at=days, effort=effort, kind="fade")


def wrong_numbers(rows: int = MOST_ROWS) -> bytes:
    """Different values, all outside the limits."""
    return efforts(rows, value=pa.array(np.arange(rows) + 1_000_000))


def unknown_athletes(rows: int = MOST_ROWS) -> bytes:
    """As many athletes as rows."""
    return efforts(rows, athlete=pa.array(np.arange(rows)))


def wrong_lines(rows: int = MOST_ROWS) -> bytes:
    """Rows without a correct cell, all different."""
    lines = (f"\n{place}x,{place}y,{place}z,{place}u,{place}v" for place in range(rows))
    return (HEADER + "".join(lines)).encode()


def wrong_after_right(right: int = 20_000, wrong: int = MOST_ROWS - 20_000) -> bytes:
    """Some right rows, and many wrong ones after them."""
    made = "".join(
        f"\n2026-03-{1 + place // 10_000:02d}T09:00,A1,jump_height,"
        f"{place % 10_000 + 1},41.5,{place % 100}"
        for place in range(right)
    )
    lines = (f"\n{place}x,{place}y,{place}z,{place}u,{place}v,1" for place in range(wrong))
    return (
        "started_at,athlete,measure,effort,value,volume_before" + made + "".join(lines)
    ).encode()


def lines_ended_by_returns(rows: int = MOST_ROWS) -> bytes:
    """Wrong rows that end in carriage returns, as on old computers."""
    return HEADER.encode() + b"\r1,1,1,1,1" * rows


def numbers_of_many_digits(rows: int = 840_000) -> bytes:
    """Different numbers with nearly as many digits as a cell may have characters."""
    head = ROW.rsplit(",", 1)[0]
    return (HEADER + "".join(f"\n{head},{place:0197d}" for place in range(rows))).encode()


def numbers_in_doubt(rows: int = 899_000) -> bytes:
    """Numbers with two meanings, and nothing in the file to show which is meant."""
    head = "\n" + ROW.rsplit(",", 1)[0].replace(",", ";")
    lines = "".join(f"{head};{place // 1000 + 1},{place % 1000:03d}" for place in range(rows))
    return (HEADER.replace(",", ";") + lines).encode()


def false_dimension() -> bytes:
    """An ordinary sheet that claims to fill every possible cell."""
    rows = list(sheet(plain_row(1, HEADER), plain_row(2, ROW)))
    rows[0] = rows[0].replace(b"<sheetData>", b'<dimension ref="A1:XFD1048576"/><sheetData>')
    return workbook(rows=rows)


Maker = Callable[[], bytes]
# By file extension.
HOSTILE: dict[str, tuple[Maker, ...]] = {
    "xlsx": (
        two_rows_far_apart,
        only_the_last_column,
        unpacks_to_gigabytes,
        shared_texts,
        long_shared_texts,
        styles,
        sheets,
        parts,
        nested,
        one_long_cell,
        one_long_tag,
        one_long_remark,
        merged_ranges,
        empty_cells,
        full_cells,
        long_numbers,
        one_text_many_times,
        crowded_tags,
        one_part_many_times,
        text_in_disguise,
        entities,
        outside_entity,
        hungry_packing,
    ),
    "parquet": (
        cells_of_nothing,
        repeated_text,
        shared_prefixes,
        long_text,
        long_texts,
        nested_columns,
        described_columns,
        long_description,
        false_sizes,
        false_rows,
        many_pages,
    ),
    "csv": (
        commas,
        wide_header,
        short_lines,
        short_quoted_lines,
        broken_lines,
        commas_below,
        endless_quote,
        endless_quoted_lines,
        endless_line,
        blank_lines,
        blank_returns,
        zeros,
        wide_signs,
        wide_blank_lines,
        packed,
        other_encoding,
        too_many_bytes,
    ),
}

# Within the limits on size, but with (almost) no row that can be used.
WRONG: dict[str, tuple[Maker, ...]] = {
    "xlsx": (one_cell_rows,),
    "parquet": (
        equal_wrong_rows,
        equal_right_rows,
        booleans,
        times_of_day,
        moments,
        dates,
        midnights,
        wrong_numbers,
        unknown_athletes,
    ),
    "csv": (
        wrong_lines,
        wrong_after_right,
        lines_ended_by_returns,
        numbers_of_many_digits,
        numbers_in_doubt,
    ),
}


def _around(tag: str, pieces: Iterable[bytes], inner: str = "") -> Iterator[bytes]:
    yield f'<{tag} xmlns="{_MAIN}">'.encode() + (f"<{inner}>".encode() if inner else b"")
    yield from pieces
    yield (f"</{inner}>" if inner else "").encode() + f"</{tag}>".encode()


def _said_instead(content: bytes, true: int, false: int) -> bytes:
    """Replace a number in a file's metadata by another, written in as many bytes."""
    written = _sevens(2 * true)
    length = len(written)
    other = _sevens(2 * false).ljust(length, b"\x80")
    other = bytes(byte | 128 for byte in other[:-1]) + b"\x00"
    start = len(content) - 8 - int.from_bytes(content[-8:-4], "little")
    return content[:start] + content[start:].replace(written, other)


def _sevens(number: int) -> bytes:
    written = bytearray()
    while number > 127:
        written.append(number & 127 | 128)
        number >>= 7
    return bytes([*written, number])
