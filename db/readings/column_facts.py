"""What is in a column of a file, counted once."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from db.layouts.header_words import Header, header_meaning, parted
from db.layouts.laid_out import LaidOut
from db.layouts.tidying import number_and_unit
from db.layouts.written_dates import is_time_of_day, looks_like_date
from db.tables.cells import IN_DOUBT, NUMBER
from db.tables.written_numbers import numbers_as_read

__all__ = ["ColumnFacts", "columns_of"]

MOST_TEXTS = 5_000
"""From twice as many distinct texts on, only a sample from all over the column is looked at."""
_MOSTLY = 0.8
_NUMBERS_ENOUGH = 0.5
_WRITTEN_CLOCK = re.compile(
    r"\d{1,2}\s*[:h]|\d\s*[apAP]\.?[mM]|^\d{4}$|^\d{1,2}\.\d{2}$|^0?[.,]\d{3}|T"
)


@dataclass(frozen=True)
class ColumnFacts:
    """A column: its name, its parsed header, and its distinct texts.

    Attributes
    ----------
    column : str
        Its name in the table.
    header : Header
        Its header as the file writes it, parsed.
    texts : tuple of str
        The distinct texts, without empty ones.
    often : tuple of int
        How many rows have each of them.
    rows, filled : int
        How many rows there are, and in how many of them it has a text.
    from_above : bool
        Whether it is stated once, above the header.
    numbers : mapping of str to str
        The texts that are numbers, with how we would write them.
    decimal_comma : bool
        Whether `numbers` takes the comma as the decimal mark, which the file does not show.
    """

    column: str
    header: Header
    texts: tuple[str, ...]
    often: tuple[int, ...]
    rows: int
    filled: int
    from_above: bool
    numbers: Mapping[str, str]
    decimal_comma: bool

    @cached_property
    def meanings(self) -> tuple[str, ...]:
        """What the header can mean."""
        return header_meaning(self.header)

    @cached_property
    def values(self) -> tuple[float, ...]:
        """The numbers in it, without those that have two meanings."""
        return tuple(float(text) for text in self.numbers.values() if NUMBER.fullmatch(text))

    @cached_property
    def in_doubt(self) -> tuple[tuple[float, float], ...]:
        """Numbers with two meanings: read with a decimal mark, and with a thousands separator."""
        found = (IN_DOUBT.fullmatch(text) for text in self.numbers.values())
        return tuple((float(each[2]), float(each[3])) for each in found if each)

    @cached_property
    def is_numbers(self) -> bool:
        """Tell whether it holds numbers, apart from some gaps and remarks."""
        counted = len(self.values) + len(self.in_doubt)
        return bool(self.texts) and counted >= _NUMBERS_ENOUGH * len(self.texts)

    @cached_property
    def is_counts(self) -> bool:
        """Tell whether it holds numbers, all of them whole and from 1 to 10,000."""
        return self.is_numbers and all(
            value == int(value) and 1 <= value <= 10_000 for value in self.values
        )

    @cached_property
    def unit_behind(self) -> str:
        """The unit after most of its texts; empty if there is none, or several."""
        units = {number_and_unit(text)[1] for text in self.texts} - {""}
        with_unit = sum(1 for text in self.texts if number_and_unit(text)[1])
        return next(iter(units)) if len(units) == 1 and 2 * with_unit > len(self.texts) else ""

    @cached_property
    def is_dates(self) -> bool:
        """Tell whether it holds written dates."""
        return self._mostly(looks_like_date)

    @cached_property
    def is_clock(self) -> bool:
        """Tell whether it holds times of day."""
        return self._mostly(lambda text: bool(_WRITTEN_CLOCK.search(text)) and is_time_of_day(text))

    def _mostly(self, holds: Callable[[str], bool]) -> bool:
        """Tell whether a test holds for most rows, so that a single mistyped day does no harm."""
        held = sum(count for text, count in zip(self.texts, self.often, strict=True) if holds(text))
        return bool(self.texts) and held >= _MOSTLY * sum(self.often)


def columns_of(laid: LaidOut) -> dict[str, ColumnFacts]:
    """Return the facts of each column, in their order."""
    table = laid.table
    counted = {str(column): _texts(table.frame[column]) for column in table.frame}
    texts = {column: tuple(each) for column, each in counted.items()}
    bare = {
        column: {text: number_and_unit(text)[0] or text for text in each}
        for column, each in texts.items()
    }
    written = {column: list(each.values()) for column, each in bare.items()}
    shown = numbers_as_read(written, table.writing)
    commas = numbers_as_read(written, table.writing.with_mark("comma"))
    facts = {}
    for column, each in texts.items():
        numbers = _numbers(bare[column], shown.get(column, {}))
        with_comma = _numbers(bare[column], commas.get(column, {}))
        # A decimal comma must add numbers, and leave those read without it as they are.
        only_so = len(numbers) < len(with_comma) >= _NUMBERS_ENOUGH * len(each) and all(
            with_comma.get(text) == number for text, number in numbers.items()
        )
        facts[column] = ColumnFacts(
            column,
            parted(laid.titles.get(column, column)),
            each,
            tuple(counted[column].values()),
            len(table.frame),
            int((table.frame[column].str.strip() != "").sum()),
            column in laid.from_above,
            with_comma if only_so else numbers,
            only_so,
        )
    return facts


def _numbers(bare: Mapping[str, str], said: Mapping[str, str]) -> dict[str, str]:
    """Return the texts that are numbers, with how we would write them."""
    read = {text: said.get(plain, plain) for text, plain in bare.items()}
    return {
        text: number
        for text, number in read.items()
        if NUMBER.fullmatch(number) or IN_DOUBT.fullmatch(number)
    }


def _texts(column: pd.Series) -> dict[str, int]:
    """Return the distinct texts in the order of the file, with how many rows have each."""
    often = column.str.strip().value_counts(sort=False)
    texts = [(str(text), int(count)) for text, count in often.items() if text]
    step = max(1, len(texts) // MOST_TEXTS)
    return dict(texts[::step])
