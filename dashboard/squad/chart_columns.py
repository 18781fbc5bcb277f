"""The columns beside the figure of the squad: call, length, loss at the standard."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan

import pandas as pd

from dashboard.core import numbers
from dashboard.core.figures import (
    TEXT_PX,
    Parts,
)
from dashboard.core.numbers import number
from dashboard.core.palette import Palette

ROW_PX = 27


LINE_HEIGHT = 1.3
"""Distance between lines of a text in Plotly, as a multiple of the font size."""


COLUMN_PX = {"call": 16, "length": 128, "lost at standard": 236}
"""Distance of each column from the axis's right edge: call is aligned left, the others right."""


def columns_beside(
    rows: pd.DataFrame, high: int, palette: Palette, narrow: bool
) -> Iterator[Parts]:
    """Yield the columns beside the rows: call, length and loss at the standard.

    Each column is one text, in letters so large that a line is as high as a row. Separate texts
    for all cells would take a browser as long as the whole rest of the figure.
    """
    records: list[numbers.Row] = [{}] * high  # a heading has no cells
    for row in rows.to_dict("records"):
        records[row["at"]] = row
    cells = {
        name: [write(row, palette) if row else _cell("\u00a0", palette.text) for row in records]
        for name, write in (
            ("call", _call_cell),
            ("length", _length_cell),
            ("lost at standard", _loss_cell),
        )
    }
    for column in ["call"] if narrow else list(COLUMN_PX):
        heading = {"y": high - 0.4, "yanchor": "bottom", "text": column}
        yield _beside(column) | heading | {"font": {"color": palette.quiet, "size": TEXT_PX}}
        yield _beside(column) | {
            "y": (high - 1) / 2,
            "yanchor": "middle",
            "text": "<br>".join(reversed(cells[column])),
            "font": {"size": ROW_PX / LINE_HEIGHT},
        }


def _call_cell(row: numbers.Row, palette: Palette) -> str:
    return _cell(row["call"], palette.call(row["call"]), row["call"] in ("short", "long"))


def _loss_cell(row: numbers.Row, palette: Palette) -> str:
    return _cell(numbers.percent(row["loss_at_standard_pct"]), palette.quiet)


def _length_cell(row: numbers.Row, palette: Palette) -> str:
    told = "none" if isnan(row["length"]) else number(row["length"])
    return _cell(told, palette.text, bold=True)


def _cell(text: str, colour: str, bold: bool = False) -> str:
    weight = "font-weight: bold; " if bold else ""
    return f'<span style="{weight}color: {colour}; font-size: {TEXT_PX}px">{text}</span>'


def _beside(column: str) -> Parts:
    side = "left" if column == "call" else "right"
    return {
        "xref": "paper",
        "x": 1,
        "xshift": COLUMN_PX[column],
        "xanchor": side,
        "align": side,
        "showarrow": False,
    }
