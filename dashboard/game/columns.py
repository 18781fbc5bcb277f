"""Blocks of lines in columns on one page, with letters as large as lets all of them fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from reportlab.lib.utils import simpleSplit

from dashboard.core.paper import REGULAR

LARGEST, SMALLEST, STEP = 15.0, 3.0, 0.25
MOST_COLUMNS = 4
GUTTER = 22.0
SIZES_PER_COLUMN = 13.0
"""A column is at least so many times as wide as its letters are high."""

HEAD, UNDER, RULE = 1.45, 0.72 * 1.25, 0.3
LINE, LINE_UNDER = 1.4, 0.72 * 1.15
BETWEEN = 0.7


@dataclass(frozen=True)
class BlockLine:
    """A line: a name, numbers at its right, and what is said under it in small letters."""

    name: str
    values: tuple[str, ...]
    under: str = ""
    bold: bool = True
    box: bool = True


@dataclass(frozen=True)
class Block:
    """Lines under a title that stay together as far as they can.

    Where `headed`, the first of them says what the others mean, and stands in every column.
    """

    title: str
    under: str
    lines: tuple[BlockLine, ...]
    headed: bool = False


Part = tuple[Block, bool, list[BlockLine]]
"""A block, whether it begins here, and those of its lines that stand here."""


@dataclass(frozen=True)
class Columns:
    """Blocks laid out.

    Attributes
    ----------
    size : float
        Height of letters in points.
    width, gutter : float
        Of a column, and between two.
    filled : list of list of Part
        The parts of blocks in each column.
    """

    size: float
    width: float
    gutter: float
    filled: list[list[Part]] = field(default_factory=list)

    @property
    def between(self) -> float:
        """Room under a block."""
        return BETWEEN * self.size

    def under(self, block: Block) -> list[str]:
        """Return what stands under a block's title, in rows that are not too wide."""
        return list(simpleSplit(block.under, REGULAR, 0.72 * self.size, self.width))

    def head_height(self, block: Block, first: bool) -> float:
        """Return the height of a block's title with what stands under it."""
        rows = len(self.under(block)) if first else 0
        return (HEAD + UNDER * rows + RULE) * self.size

    def line_height(self, line: BlockLine) -> float:
        """Return the height of a line."""
        return (LINE + (LINE_UNDER if line.under else 0.0)) * self.size


def fitted_columns(blocks: Sequence[Block], width: float, height: float) -> Columns:
    """Return the layout with the largest letters that fits.

    Parameters
    ----------
    blocks
        In the order in which they are read.
    width, height
        Room for all columns, in points.
    """
    size = LARGEST
    while size > SMALLEST:
        for many in range(2, MOST_COLUMNS + 1):
            columns = Columns(size, (width - (many - 1) * GUTTER) / many, GUTTER)
            if columns.width < SIZES_PER_COLUMN * size:
                break
            filled = _filled(blocks, columns, many, height)
            if filled is not None:
                return Columns(size, columns.width, GUTTER, filled)
        size -= STEP
    many = MOST_COLUMNS
    columns = Columns(SMALLEST, (width - (many - 1) * GUTTER) / many, GUTTER)
    filled = _filled(blocks, columns, many, float("inf"))
    return Columns(SMALLEST, columns.width, GUTTER, filled or [])


def _filled(
    blocks: Sequence[Block], columns: Columns, many: int, height: float
) -> list[list[Part]] | None:
    """Fill columns from the left; None if they are too few."""
    filled: list[list[Part]] = [[]]
    left = height
    for block in blocks:
        first, waiting = True, list(block.lines)
        while first or waiting:
            head = columns.head_height(block, first)
            fit = _fitting(waiting, columns, left - head)
            # A title with fewer than two lines under it does not stand at a column's foot.
            if left < head or fit < min(2, len(waiting)):
                if not filled[-1] or len(filled) == many:
                    return None
                filled.append([])
                left = height
                continue
            here, waiting = waiting[:fit], waiting[fit:]
            if block.headed and waiting:
                waiting = [block.lines[0], *waiting]
            filled[-1].append((block, first, here))
            used = head + sum(columns.line_height(line) for line in here)
            left -= used + columns.between
            first = False
    return filled


def _fitting(lines: Sequence[BlockLine], columns: Columns, height: float) -> int:
    """Return how many lines fit from the first on."""
    for count, line in enumerate(lines):
        height -= columns.line_height(line)
        if height < 0:
            return count
    return len(lines)
