"""A file as people bring it, and what it says, written down before any program read it."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from openpyxl import Workbook

ATHLETES = {
    "A1": "Anna Berg",
    "A2": "Bo Lindqvist",
    "A3": "Zoë Müller",
    "A4": "José Núñez",
    "A5": "Liam O'Connor",
    "A6": "Maria Santos-Silva",
    "A7": "Łukasz Nowak",
}
"""The athletes in the store: name by code."""
INCH_CM, MPH, KMH = 2.54, 0.44704, 1 / 3.6
A_TEST = MappingProxyType({"kind": "fade"})
AT_NINE = MappingProxyType({"clock": "09:00"})
A_TEST_AT_NINE = MappingProxyType({"kind": "fade", "clock": "09:00"})
"""What a person answers because such a file cannot show it."""

Cells = Sequence[Sequence[object]]


@dataclass(frozen=True, order=True)
class Effort:
    """An effort as it should be stored."""

    athlete: str
    started_at: str
    measure: str
    effort: int
    value: float
    volume: float


@dataclass(frozen=True)
class Layout:
    """A file, and the truth about it.

    Attributes
    ----------
    name, file : str
        What is odd about it, and the name of the file.
    content : bytes
        What is in it.
    truth : tuple of Effort
        All that should be stored.
    answers : mapping of str to str
        Answers to what the file does not show, by the key of the question. Any other question
        is one too many.
    set_aside : int
        Lines that should be set aside with a reason.
    sheet : str
        The sheet of a workbook, where it is not the first.
    """

    name: str
    file: str
    content: bytes
    truth: tuple[Effort, ...]
    answers: Mapping[str, str] = field(default_factory=lambda: A_TEST_AT_NINE)
    set_aside: int = 0
    sheet: str = ""


def session(
    athlete: str,
    start: str,
    values: Sequence[float],
    measure: str = "jump_height",
    before: float = 0,
    factor: float = 1.0,
) -> tuple[Effort, ...]:
    """Return the efforts of a session in order; values times `factor` have the measure's unit."""
    start = start if "T" in start else f"{start}T09:00"
    return tuple(
        Effort(athlete, start, measure, place + 1, round(value * factor, 4), before + place)
        for place, value in enumerate(values)
    )


def text(*lines: str, encoding: str = "utf-8") -> bytes:
    """Return lines as the bytes of a text file."""
    return "".join(f"{line}\n" for line in lines).encode(encoding)


def book(sheets: Mapping[str, Cells], merged: Sequence[str] = ()) -> bytes:
    """Return a workbook with these cells of the first sheet merged."""
    workbook = Workbook()
    workbook.remove(workbook.worksheets[0])
    for title, rows in sheets.items():
        sheet = workbook.create_sheet(title)
        for row in rows:
            sheet.append(list(row))
    for cells in merged:
        workbook.worksheets[0].merge_cells(cells)
    content = io.BytesIO()
    workbook.save(content)
    return content.getvalue()
