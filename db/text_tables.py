from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

import pandas as pd
import pyarrow as pa

from db.errors import BadInput
from db.file_kinds import READERS
from db.file_rows import BrokenRow, FileRows, row_text

KINDS_OF_FILE = "CSV or text (.csv, .tsv, .txt), Parquet (.parquet) or Excel (.xlsx)"


@dataclass(frozen=True)
class RawTable:
    """A table as it was written.

    Attributes
    ----------
    frame : DataFrame
        Text columns; an empty cell is an empty text. The index is the line of the file
        (for Parquet the number of the row).
    name : str
        Name of the file.
    sha256 : str
        SHA-256 of its bytes, in hexadecimal.
    decimal_comma : bool
        Whether numbers may be written with a comma.
    broken : mapping of int to BrokenRow
        Lines that do not fit under the header.
    origin : RawTable or None
        The table as the file has it, where a mapping made this one of it. Then a line can
        have several rows.
    """

    frame: pd.DataFrame
    name: str
    sha256: str
    decimal_comma: bool = False
    broken: Mapping[int, BrokenRow] = field(default_factory=lambda: MappingProxyType({}))
    origin: RawTable | None = None

    def row_texts(self, lines: Iterable[int]) -> list[str]:
        """Give the rows of some lines as text, cells between commas."""
        if self.origin is not None:
            return self.origin.row_texts(lines)
        wanted = self.frame.loc[list(lines)]
        return [
            self.broken[line].row_text if line in self.broken else row_text(cells)
            for line, *cells in wanted.itertuples(name=None)
        ]


def read_text_table(source: Path | bytes, name: str = "") -> RawTable:
    """Read a CSV, Parquet or Excel file as text, whatever its columns.

    Parameters
    ----------
    source : Path or bytes
        The file, or what is in it.
    name : str
        Its name, whose ending says the kind; needed with bytes.

    Raises
    ------
    BadInput
        If it cannot be read, has no rows, or has a column twice or without a name.
    """
    content, name = _content(source, name)
    if not content.strip():
        raise BadInput(f"The file {name} is empty. Save the efforts in it and try again.")
    sha256 = hashlib.sha256(content).hexdigest()
    reader = READERS.get(Path(name).suffix.lower())
    if reader is None:
        raise BadInput(
            f"The file {name} is of a kind that cannot be read. Save it as {KINDS_OF_FILE}."
        )
    return _assembled(reader(content, name), name, sha256)


def _content(source: Path | bytes, name: str) -> tuple[bytes, str]:
    if isinstance(source, bytes):
        return source, name
    try:
        return source.read_bytes(), name or source.name
    except OSError as error:
        raise BadInput(
            f"The file {source} cannot be read: {error.strerror}. Check the path."
        ) from error


def _assembled(rows: FileRows, name: str, sha256: str) -> RawTable:
    if not len(rows.lines):
        raise BadInput(f"The file {name} has no rows below its header. Nothing was read.")
    _check_header(rows.header, name)
    frame = pa.table(rows.columns, names=rows.header).to_pandas()
    frame.index = pd.Index(rows.lines, name="line")
    return RawTable(frame, name, sha256, rows.decimal_comma, MappingProxyType(rows.broken))


def _check_header(header: Sequence[str], name: str) -> None:
    doubled = sorted({title for title in header if title and header.count(title) > 1})
    if doubled:
        raise BadInput(
            f"The file {name} has the column {', '.join(doubled)} more than once. Keep one of them."
        )
    if "" in header:
        raise BadInput(
            f"Column {header.index('') + 1} of the file {name} has no name in the header. Name "
            "it, or take it out."
        )
