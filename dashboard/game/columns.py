"""Blocks of lines in columns on one page, with the largest letters that fit."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from itertools import product
from xml.sax.saxutils import escape

from reportlab.lib.colors import black
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Frame, Spacer, Table

from dashboard.core.paper import BOLD, REGULAR, paragraph

LARGEST, SMALLEST, STEPS_PER_POINT = 15, 1, 2
LAYOUTS = tuple(product((False, True), (2, 3, 4)))
"""Whether blocks may be split, and how many columns there are; the best first."""
GUTTER = 22.0
SIZES_PER_COLUMN = 13.0
"""Least width of a column, as a multiple of the letter size."""
TITLE, SMALL = 1.1, 0.72
"""Size of titles and of the small text under them, relative to the other letters."""


@dataclass(frozen=True)
class BlockLine:
    """A line: a name, numbers to its right, and small text under it."""

    name: str
    values: tuple[str, ...]
    under: str = ""
    bold: bool = True
    box: bool = True


@dataclass(frozen=True)
class Block:
    """Lines under a title, which stay together if they can.

    If `headed`, the first line explains the others and is repeated in every column.
    """

    title: str
    under: str
    lines: tuple[BlockLine, ...]
    headed: bool = False


def draw_columns(
    canvas: Canvas,
    blocks: Sequence[Block],
    left: float,
    bottom: float,
    width: float,
    height: float,
) -> None:
    """Draw blocks in reading order, with the largest letters that fit.

    Parameters
    ----------
    left, bottom, width, height
        The room for all columns, in points.
    """
    trial = Canvas(BytesIO())

    def drawn(step: int, layout: tuple[bool, int], canvas: Canvas) -> bool:
        split, many = layout
        size, wide = step / STEPS_PER_POINT, (width - (many - 1) * GUTTER) / many
        if wide < SIZES_PER_COLUMN * size:
            return False
        story = [part for block in blocks for part in _story(block, size, wide, split)]
        places = [left + place * (wide + GUTTER) for place in range(many)]
        frames = [Frame(place, bottom, wide, height, *(0, 0, 0, 0)) for place in places]
        return _poured(story, frames, canvas)

    def too_large(step: int) -> bool:
        return not any(drawn(step, layout, trial) for layout in LAYOUTS)

    steps = range(SMALLEST * STEPS_PER_POINT, LARGEST * STEPS_PER_POINT + 1)
    step = steps[max(bisect_left(steps, True, key=too_large) - 1, 0)]
    fitting = (layout for layout in LAYOUTS if drawn(step, layout, trial))
    drawn(step, next(fitting, LAYOUTS[-1]), canvas)


def _poured(story: list[Flowable], frames: Sequence[Frame], canvas: Canvas) -> bool:
    """Fill frames with a story from left to right; return whether all of it fits."""
    for frame in frames:
        while story and frame.add(story[0], canvas):
            del story[0]
        parts = frame.split(story[0], canvas) if story else []
        if parts and frame.add(parts[0], canvas):
            story[:1] = parts[1:]
    return not story


def _story(block: Block, size: float, width: float, split: bool) -> list[Flowable]:
    many = max((len(line.values) for line in block.lines), default=0)
    cell = (1.5 if many > 1 else 2.2) * size
    title = escape(block.title).replace("  ", "\u00a0 ")
    head = [[paragraph(title, TITLE * size, BOLD)], [paragraph(escape(block.under), SMALL * size)]]
    rows = [[_name(line, size), *line.values] for line in block.lines]
    bold = [number for number, line in enumerate(block.lines, start=2) if line.bold]
    style = [
        ("SPAN", (0, 0), (-1, 0)),
        ("SPAN", (0, 1), (-1, 1)),
        ("NOSPLIT", (0, 0), (-1, 3 if split else -1)),  # keep two lines with a title
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 0.15 * size),
        ("ALIGN", (1, 0), (-1, -1), "RIGHT"),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEBELOW", (0, 1), (-1, 1), 1, black),
        ("LINEBELOW", (0, 2), (-1, -1), 0.3, black),
        ("FONT", (0, 0), (-1, -1), REGULAR, (0.8 if many > 1 else 1.0) * size, 1.25 * size),
        *(("FONTNAME", (1, row), (-1, row), BOLD) for row in bold),
    ]
    repeated = (0, 2) if block.headed else (0,)
    widths = [width - many * cell, *[cell] * many]
    return [
        Table([*head, *rows], widths, style=style, repeatRows=repeated),
        Spacer(1, 0.7 * size),
    ]


def _name(line: BlockLine, size: float) -> list[Flowable]:
    letters = size if line.bold else 0.8 * size
    box = "\u2610 " if line.box else ""
    parts = [paragraph(f"{box}{escape(line.name)}", letters)]
    return parts + ([paragraph(escape(line.under), SMALL * size)] if line.under else [])
