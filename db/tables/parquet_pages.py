"""The unpacked size of a Parquet file's pages, from their own headers.

The metadata at the end of a file can claim anything. What is unpacked is what the header before
each page says. Source: https://github.com/apache/parquet-format and Thrift's compact protocol.
"""

from __future__ import annotations

from collections.abc import Iterator

import pyarrow.parquet

from db.tables.limits import MOST_ROW_BYTES

Fields = dict[int, "int | Fields | None"]

# Field numbers in a page header, and by data header the field that gives its encoding.
_UNPACKED_BYTES, _PACKED_BYTES = 2, 3
_ENCODING_OF = {5: 2, 8: 4}
# The headers of data, dictionary and version 2 data pages; each gives its number of values.
_KINDS, _VALUES = (5, 7, 8), 1
# More than the average cell of a page; cells of efforts have about ten bytes.
_LONG_CELL_BYTES = 2**12
# Texts that share prefixes with the text before: a small page can become any size.
_SHARED_PREFIXES = 7
_LONGEST_HEADER_BYTES, _DEEPEST = 2**16, 5
# Thrift's types of values.
_YES, _NO, _BYTE, _WHOLE, _DOUBLE, _TEXT, _STRUCT = 1, 2, 3, (4, 5, 6), 7, 8, 12


_LIST = 9
# A file ends with the length of the metadata before it, and the signature.
SIGNATURE = b"PAR1"
_TAIL_BYTES = 8


class NotReadable(ValueError):
    """The pages break the format, or have an encoding that is not read."""


class CellsTooLong(NotReadable):
    """The pages hold longer cells than any table of efforts."""


def description_bytes(content: bytes) -> int:
    """Return the length of a file's metadata in bytes.

    Raises
    ------
    NotReadable
        If there is no metadata.
    """
    length = int.from_bytes(content[-_TAIL_BYTES:-4], "little")
    if not content.endswith(SIGNATURE) or length > len(content) - _TAIL_BYTES:
        raise NotReadable("there is no description")
    return length


def described_columns(content: bytes) -> int:
    """Count the columns in a file's metadata, without reading their descriptions.

    Raises
    ------
    NotReadable
        If there is no metadata.
    """
    start = len(content) - _TAIL_BYTES - description_bytes(content)
    return max(_Header(content, start, len(content)).second_list() - 1, 0)


def unpacked_bytes(content: bytes, metadata: pyarrow.parquet.FileMetaData) -> Iterator[int]:
    """Yield the unpacked size of each page of a file.

    Raises
    ------
    NotReadable
        If a page cannot be parsed, has cells that are too long, or could become larger than
        its unpacked size.
    """
    for group in range(metadata.num_row_groups):
        for place in range(metadata.num_columns):
            column = metadata.row_group(group).column(place)
            if not column.num_values:
                continue  # such a column has no pages, and its offsets mean nothing
            start = column.data_page_offset
            if column.dictionary_page_offset:
                start = min(start, column.dictionary_page_offset)
            yield from _of_column(content, start, start + column.total_compressed_size)


def _of_column(content: bytes, start: int, end: int) -> Iterator[int]:
    if not 0 <= start <= end <= len(content):
        raise NotReadable("a column lies outside the file")
    while start < end:
        header = _Header(content, start, min(end, start + _LONGEST_HEADER_BYTES))
        fields = header.fields()
        packed, unpacked = fields.get(_PACKED_BYTES), fields.get(_UNPACKED_BYTES)
        if (
            not isinstance(packed, int)
            or not isinstance(unpacked, int)
            or min(packed, unpacked) < 0
        ):
            raise NotReadable("a page does not say how long it is")
        for kind, place in _ENCODING_OF.items():
            about = fields.get(kind)
            if isinstance(about, dict) and about.get(place) == _SHARED_PREFIXES:
                raise NotReadable("texts are written as what they share with the one before")
        yield unpacked
        if any(unpacked > _longest_page(fields.get(kind)) for kind in _KINDS if kind in fields):
            raise CellsTooLong("a page is large for so few cells")
        start = header.place + packed


def _longest_page(about: object) -> int:
    values = about.get(_VALUES) if isinstance(about, dict) else 0
    return MOST_ROW_BYTES + _LONG_CELL_BYTES * max(values if isinstance(values, int) else 0, 0)


class _Header:
    """Reads the header of a page from its first byte."""

    def __init__(self, content: bytes, place: int, end: int) -> None:
        self.place = place
        self._content, self._end = content, end

    def fields(self, depth: int = 0) -> Fields:
        """Read fields by their number, and skip texts."""
        if depth > _DEEPEST:
            raise NotReadable("a header nests too deep")
        found: Fields = {}
        number = 0
        while sign := self._byte():
            number = number + (sign >> 4) if sign >> 4 else self._whole()
            found[number] = self._value(sign & 15, depth)
        return found

    def second_list(self) -> int:
        """Read the length of the list that follows the first field."""
        first = self._byte() & 15
        self._value(first, 0)
        if self._byte() & 15 != _LIST:
            raise NotReadable("no list of columns follows the version")
        sign = self._byte()
        return sign >> 4 if sign >> 4 < 15 else self._count()

    def _value(self, kind: int, depth: int) -> int | Fields | None:
        if kind in _WHOLE:
            return self._whole()
        if kind == _STRUCT:
            return self.fields(depth + 1)
        if kind == _TEXT:
            length = self._count()
            self.place += length
        elif kind == _DOUBLE:
            self.place += 8
        elif kind == _BYTE:
            self.place += 1
        elif kind not in (_YES, _NO):
            raise NotReadable("a header holds what no page has")
        return None

    def _byte(self) -> int:
        if self.place >= self._end:
            raise NotReadable("a header does not end")
        self.place += 1
        return self._content[self.place - 1]

    def _count(self) -> int:
        """Read a number of variable length: seven bits a byte, the lowest first."""
        count = 0
        for shift in range(0, 64, 7):
            byte = self._byte()
            count |= (byte & 127) << shift
            if byte < 128:
                return count
        raise NotReadable("a number does not end")

    def _whole(self) -> int:
        """Read a whole number with its sign in the lowest bit (zigzag)."""
        count = self._count()
        return count >> 1 ^ -(count & 1)
