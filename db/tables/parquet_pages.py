"""What the pages of a Parquet file unpack to, by their own headers.

What a file says of itself at its end can be anything. What is unpacked is what the header in
front of each page says. Source: https://github.com/apache/parquet-format and Thrift's compact
protocol.
"""

from __future__ import annotations

from collections.abc import Iterator

import pyarrow.parquet

from db.tables.limits import MOST_ROW_BYTES

Fields = dict[int, "int | Fields | None"]

# Numbers of fields in the header of a page, and where those of data say how they are written.
_UNPACKED_BYTES, _PACKED_BYTES = 2, 3
_ENCODING_OF = {5: 2, 8: 4}
# Data, a dictionary, and data in the second writing; each says how many values there are.
_KINDS, _VALUES = (5, 7, 8), 1
# More than the cells of a page have on average; those of efforts have some ten bytes.
_LONG_CELL_BYTES = 2**12
# Each text as what it shares with the one before: a small page can become any size.
_SHARED_PREFIXES = 7
_LONGEST_HEADER_BYTES, _DEEPEST = 2**16, 5
# Kinds of values.
_YES, _NO, _BYTE, _WHOLE, _DOUBLE, _TEXT, _STRUCT = 1, 2, 3, (4, 5, 6), 7, 8, 12


_LIST = 9
# At the end of a file: how long the description before it is, and the signature.
SIGNATURE = b"PAR1"
_TAIL_BYTES = 8


class NotReadable(ValueError):
    """The pages are not as the format has them, or in a writing that is not read."""


class CellsTooLong(NotReadable):
    """The pages hold cells that are longer than those of any table of efforts."""


def description_bytes(content: bytes) -> int:
    """Give the length of what a file says of itself.

    Raises
    ------
    NotReadable
        If it says nothing.
    """
    length = int.from_bytes(content[-_TAIL_BYTES:-4], "little")
    if not content.endswith(SIGNATURE) or length > len(content) - _TAIL_BYTES:
        raise NotReadable("there is no description")
    return length


def described_columns(content: bytes) -> int:
    """Count the columns that a file describes, without reading their descriptions.

    Raises
    ------
    NotReadable
        If there is no description.
    """
    start = len(content) - _TAIL_BYTES - description_bytes(content)
    return max(_Header(content, start, len(content)).second_list() - 1, 0)


def unpacked_bytes(content: bytes, metadata: pyarrow.parquet.FileMetaData) -> Iterator[int]:
    """Give the size of each page of a file when it is unpacked.

    Raises
    ------
    NotReadable
        If a page cannot be followed, has cells that are too long, or could become larger than
        it is when unpacked.
    """
    for group in range(metadata.num_row_groups):
        for place in range(metadata.num_columns):
            column = metadata.row_group(group).column(place)
            if not column.num_values:
                continue  # such a column has no pages, and says at random where they are
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
        """Read fields by their number; texts are passed over."""
        if depth > _DEEPEST:
            raise NotReadable("a header nests too deep")
        found: Fields = {}
        number = 0
        while sign := self._byte():
            number = number + (sign >> 4) if sign >> 4 else self._whole()
            found[number] = self._value(sign & 15, depth)
        return found

    def second_list(self) -> int:
        """Read how long the list is that follows a first number."""
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
        """Read a number in sevens of bits, the lowest first."""
        count = 0
        for shift in range(0, 64, 7):
            byte = self._byte()
            count |= (byte & 127) << shift
            if byte < 128:
                return count
        raise NotReadable("a number does not end")

    def _whole(self) -> int:
        """Read a whole number, its sign in the lowest bit."""
        count = self._count()
        return count >> 1 ^ -(count & 1)
