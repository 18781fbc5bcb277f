"""The figure of the squad: every athlete's good range and best volume on one axis."""

from __future__ import annotations

from html import escape

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.core import numbers
from dashboard.core.figures import (
    FOOT_PX,
    HEAD_PX,
    TEXT_PX,
    VOLUME_TICKS,
    Parts,
    blank_figure,
    calm,
    quiet_axes,
    spaced,
)
from dashboard.core.numbers import number
from dashboard.core.palette import CALLS, Palette, see_through
from dashboard.squad.chart_columns import ROW_PX, columns_beside

NAME_LETTER_PX = 6.5


NAME_GAP_PX = 16
"""Room for a name: wide enough for nearly all, so that the browser need not draw again."""


SHAPES = {
    "long": "triangle-right",
    "either": "circle",
    "short": "triangle-left",
    "not known": "circle",
}
"""Marks of the calls: triangles point to the better length, so no colour has to be seen."""


GOOD_PX = 15
"""Height of the bar that is the good range."""


def squad_figure(
    responses: pd.DataFrame,
    standard: float,
    unit: str,
    palette: Palette,
    narrow: bool = False,
) -> go.Figure:
    """Draw every athlete's good range and best volume on one axis, longest at the top.

    Athletes are in three groups: those who need longer, the standard, or shorter.

    Parameters
    ----------
    responses
        One row per athlete, by the column names of `db.fits.results.responses`.
    standard
        The volume that the team does today, in `unit`.
    unit
        Volume unit in words, such as `efforts`.
    palette
        Colours of the screen.
    narrow
        Leave the columns at the right to the table below, for a phone.

    Returns
    -------
    plotly.graph_objects.Figure
        Each dot carries its athlete's code as `customdata`, so that a click can open it.
    """
    rows, headings = placed(responses, standard, narrow)
    figure, high = blank_figure(), len(rows) + len(headings)
    for call in CALLS:
        _add_call(figure, rows[rows["call"] == call], palette, call, narrow)
    # Set all annotations at once: plotly checks them all again each time one is added.
    figure.update_layout(
        shapes=[_standard_line(standard, high, palette)],
        annotations=[
            _standard_label(standard, high, palette),
            *columns_beside(rows, high, palette, narrow),
        ],
    )
    _lay_out_squad(figure, rows, headings, standard, unit, palette, narrow)
    return figure


def placed(
    responses: pd.DataFrame, standard: float, narrow: bool
) -> tuple[pd.DataFrame, dict[int, str]]:
    """Return rows with their place `at`, counted from the bottom, and the headings by place."""
    than, of_all = ("", "") if narrow else (f" than {number(standard)}", f" {number(standard)}")
    groups = {
        f"Longer{than}": ("long",),
        f"Standard{of_all}": ("either", "not known"),
        f"Shorter{than}": ("short",),
    }
    found = [
        (heading, rows)
        for heading, calls in groups.items()
        if len(rows := responses[responses["call"].isin(calls)])
    ]
    at, placed, headings = len(responses) + len(found), [], {}
    for heading, rows in found:
        at -= 1
        headings[at] = f"{heading} ({len(rows)})"
        rows = rows.sort_values("best_volume", ascending=False, kind="stable")
        placed.append(rows.assign(at=range(at - 1, at - 1 - len(rows), -1)))
        at -= len(rows)
    return pd.concat(placed, ignore_index=True), headings


def _add_call(
    figure: go.Figure, rows: pd.DataFrame, palette: Palette, call: str, narrow: bool
) -> None:
    """Draw the rows of one call: the good range as a bar, 90 % as a line, then the mark."""
    if rows.empty:
        return
    colour = palette.call(call)
    height = rows["at"].to_numpy(float)
    for low, high, width, share in (
        ("good_from", "good_to", GOOD_PX, 0.28),
        ("best_volume_low", "best_volume_high", 2, 1.0),
    ):
        figure.add_scatter(
            x=_strokes(spaced(rows[low].astype(float)), spaced(rows[high].astype(float))),
            y=_strokes(height, height),
            mode="lines",
            line={"width": width, "color": see_through(colour, share)},
            hoverinfo="skip",
            name=f"{call} {low} {high}",
        )
    figure.add_scatter(
        x=spaced(rows["best_volume"]),
        y=rows["at"],
        mode="markers",
        marker={
            "symbol": SHAPES[call],
            "size": 10 if narrow else 13,
            "color": palette.background if call == "not known" else colour,
            "line": {"width": 2, "color": colour},
            "opacity": 1,
        },
        cliponaxis=False,
        selected={"marker": {"opacity": 1}},
        unselected={"marker": {"opacity": 1}},
        customdata=rows["athlete"],
        text=[_hover(row) for row in rows.to_dict("records")],
        hovertemplate="%{text}<extra></extra>",
        name=call,
    )


def _strokes(start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Return start, end, gap, start, end, gap ...: many strokes in one trace."""
    return np.column_stack([start, end, np.full(len(start), np.nan)]).ravel()


def _hover(row: numbers.Row) -> str:
    return (
        f"<b>{escape(row['name'])}</b><br>best after {numbers.estimated_volume(row)}"
        f"<br>{numbers.estimated_percent(row, 'loss_at_standard_pct')} lost at the standard"
        f"<br>{numbers.evidence(row)}"
    )


def _standard_line(standard: float, rows: int, palette: Palette) -> Parts:
    """Return the standard volume as a line through all rows."""
    at = float(spaced(standard))
    return {
        "type": "line",
        "x0": at,
        "x1": at,
        "y0": -0.6,
        "y1": rows - 0.4,
        "line": {"color": palette.volume, "width": 2, "dash": "dash"},
        "layer": "below",
    }


def _standard_label(standard: float, rows: int, palette: Palette) -> Parts:
    return {
        "x": float(spaced(standard)),
        "y": rows - 0.4,
        "yanchor": "bottom",
        "text": f"standard {number(standard)}",
        "font": {"color": palette.volume, "size": TEXT_PX},
        "showarrow": False,
    }


def _lay_out_squad(
    figure: go.Figure,
    rows: pd.DataFrame,
    headings: dict[int, str],
    standard: float,
    unit: str,
    palette: Palette,
    narrow: bool,
) -> None:
    high = len(rows) + len(headings)
    most = max(float(rows["best_volume_high"].max()), standard)
    ticks = [tick for tick in VOLUME_TICKS if tick <= most * 1.3] if most > 2 else [0, 1, 2]
    names = [escape(_short_name(name) if narrow else name) for name in rows["name"]]
    labels = dict(zip(rows["at"], names, strict=True))
    labels |= {at: f"<b>{heading}</b>" for at, heading in headings.items()}
    figure.update_layout(
        **calm(palette),
        height=ROW_PX * (high + 0.2) + HEAD_PX + FOOT_PX,
        margin={
            "l": NAME_GAP_PX + NAME_LETTER_PX * max(map(len, [*names, *headings.values()])),
            "r": 82 if narrow else 242,
            "t": HEAD_PX,
            "b": FOOT_PX,
        },
        xaxis={
            "range": [-0.05, float(spaced(most * 1.08))],
            "tickvals": spaced(np.array(ticks)).tolist(),
            "ticktext": [str(tick) for tick in ticks],
            "title": {"text": unit},
            "showgrid": True,
        },
        yaxis={
            "range": [-0.6, high - 0.4],
            "tickvals": list(labels),
            "ticktext": list(labels.values()),
            "tickfont": {"color": palette.text, "size": TEXT_PX},
            "showgrid": False,
            "automargin": True,
        },
    )
    quiet_axes(figure, palette)


def _short_name(name: str) -> str:
    """Shorten a first name to its initial, so that a phone keeps room for the axis."""
    first, _, rest = name.partition(" ")
    return f"{first[0]}. {rest}" if rest else name
