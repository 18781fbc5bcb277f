"""What is in an Excel workbook: its sheets, and the parts that say how to read cells.

A workbook is a ZIP archive of XML. Parts are read as streams, and only those that are needed,
because a file of a few kilobytes can unpack to any size.
"""

from __future__ import annotations

import io
import posixpath
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile

from db.errors import BadInput
from db.tables.bounded_xml import NotAllowed, read_xml
from db.tables.limits import check_size, too_large

Attributes = Mapping[str, str]

_CHUNK_BYTES = 2**17
_MOST_PARTS = 10_000
_MOST_SHEETS = 1_000
# For the parts that say how to read the others; those of a crowded workbook take 2 MB.
_MOST_PLAN_BYTES, _MOST_PLAN_TAGS = 2**25, 400_000
_BEGINNING_OF_PART = b"PK\x01\x02"
_ENCRYPTED = 1


@dataclass(frozen=True)
class Sheet:
    """A sheet with cells: its name, its part of the archive, and whether it is hidden."""

    name: str
    part: str
    hidden: bool


class Workbook:
    """A workbook whose sheets are known but not read yet.

    Attributes
    ----------
    name : str
        Name of the file.
    sheets : tuple of Sheet
        The sheets with cells, in their order; chart sheets are left out.
    since_1904 : bool
        Whether days are counted from 1904.
    strings : str
        The part with the texts of cells; empty where there is none.

    Raises
    ------
    BadInput
        If it holds more than an import takes, or is protected by a password.
    """

    def __init__(self, content: bytes, name: str) -> None:
        self.name = name
        # Count the parts before reading their list, which takes a kilobyte of memory for each.
        if (parts := content.count(_BEGINNING_OF_PART)) > _MOST_PARTS:
            raise too_large(name, f"{parts:,} parts", f"{_MOST_PARTS:,}")
        self._archive = ZipFile(io.BytesIO(content))
        check_size(name, unpacked_bytes=sum(part.file_size for part in self._archive.infolist()))
        book = _of_type(self._relations(""), "/officeDocument")
        relations = self._relations(book)
        told = self._elements(book, "sheet", "workbookPr")
        self.sheets = tuple(_sheets([each for tag, each in told if tag == "sheet"], relations))
        if len(self.sheets) > _MOST_SHEETS:
            raise too_large(name, f"{len(self.sheets):,} sheets", f"{_MOST_SHEETS:,}")
        self.since_1904 = any(each.get("date1904") in ("1", "true") for _, each in told)
        self.strings = _of_type(relations, "/sharedStrings")
        self._styles = _of_type(relations, "/styles")

    def formats(self) -> list[tuple[int, str]]:
        """Return each style's number format: its number, and its code if it is not built in."""
        if not self._styles:
            return []
        sections = ("numFmts", "cellStyleXfs", "cellXfs", "cellStyles", "dxfs")
        codes: dict[int, str] = {}
        numbers, section = [], ""
        for tag, attributes in self._elements(self._styles, *sections, "numFmt", "xf"):
            if tag in sections:
                section = tag
            elif section == "numFmts":
                codes[int(attributes["numFmtId"])] = attributes["formatCode"]
            elif section == "cellXfs":
                numbers.append(int(attributes.get("numFmtId", "0")))
        return [(number, codes.get(number, "")) for number in numbers]

    def check_tags(self, part: str, most_tags: int, what: str) -> None:
        """Check how many start and end tags a part has, before anything is made of them.

        Attributes are counted separately, with the same limit.

        Parameters
        ----------
        part : str
            The part.
        most_tags : int
            How many it may have.
        what : str
            What it holds, for the message.

        Raises
        ------
        BadInput
            If it has more, or is protected by a password.
        """
        tags = attributes = 0
        for chunk in self.unpacked(part):
            tags += chunk.count(b"<")
            attributes += chunk.count(b"=")
            if max(tags, attributes) > most_tags:
                raise BadInput(
                    f"{what} of the file {self.name} is larger than an import takes. Save "
                    "the rows as 'CSV UTF-8', or divide them into several files. Nothing was read."
                )

    def unpacked_bytes(self, part: str) -> int:
        """Return the size that a part states; it cannot unpack to more."""
        return self._archive.getinfo(part).file_size

    def unpacked(self, part: str) -> Iterator[bytes]:
        """Unpack a part piece by piece."""
        about = self._archive.getinfo(part)
        if about.flag_bits & _ENCRYPTED:
            raise protected(self.name)
        if about.compress_type not in (ZIP_STORED, ZIP_DEFLATED):
            # Other methods take as much memory as the file asks for, before they unpack anything.
            raise NotAllowed(f"{part} is packed by method {about.compress_type}")
        with self._archive.open(about) as unpacked:
            while chunk := unpacked.read(_CHUNK_BYTES):
                yield chunk

    def _relations(self, part: str) -> dict[str, tuple[str, str]]:
        """Return what a part refers to: by id, the type and the part."""
        folder, base = posixpath.split(part)
        listed = posixpath.join(folder, "_rels", f"{base}.rels")
        found = self._elements(listed, "Relationship")
        return {
            each["Id"]: (each["Type"], posixpath.join("/", folder, each["Target"]).lstrip("/"))
            for _, each in found
        }

    def _elements(self, part: str, *tags: str) -> list[tuple[str, Attributes]]:
        """List the elements with some names in a part that says how to read the others."""
        if self.unpacked_bytes(part) > _MOST_PLAN_BYTES:
            raise NotAllowed(f"{part} is larger than {_MOST_PLAN_BYTES:,} bytes")
        found = _Found(tags)
        self.check_tags(part, _MOST_PLAN_TAGS, "The list of parts")
        for _ in read_xml(self.unpacked(part), found):
            pass
        return found.elements


class _Found:
    def __init__(self, tags: tuple[str, ...]) -> None:
        self.tags = tags
        self.elements: list[tuple[str, Attributes]] = []

    def start(self, tag: str, attributes: Attributes) -> None:
        if tag in self.tags:
            self.elements.append((tag, attributes))

    def end(self, tag: str) -> None:
        pass

    def text(self, text: str) -> None:
        pass


def protected(name: str) -> BadInput:
    """Return the error for a workbook that only opens with a password."""
    return BadInput(
        f"The file {name} is protected by a password. Open it in your spreadsheet program, save "
        "it without the password, and try again."
    )


def _sheets(told: list[Attributes], relations: Mapping[str, tuple[str, str]]) -> Iterator[Sheet]:
    for each in told:
        number = next(value for key, value in each.items() if key.rpartition(":")[2] == "id")
        kind, part = relations[number]
        if kind.endswith("/worksheet"):
            yield Sheet(each["name"], part, each.get("state", "visible") != "visible")


def _of_type(relations: Mapping[str, tuple[str, str]], ending: str) -> str:
    return next((part for kind, part in relations.values() if kind.endswith(ending)), "")
