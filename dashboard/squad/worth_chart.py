"""The figure of what own lengths bring against one length for all."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from dashboard.core import numbers
from dashboard.core.figures import FOOT_PX, TEXT_PX, blank_figure, calm, interval_bars, quiet_axes
from dashboard.core.numbers import Row
from dashboard.core.palette import Palette
from dashboard.squad import worth_words

ROW_PX = 64
HEAD_PX = 30


def lengths_figure(
    worth: pd.DataFrame, worthwhile_pct: float, unit: str, palette: Palette
) -> go.Figure:
    """Draw the mean gain of own lengths over each single length, with its interval.

    Parameters
    ----------
    worth
        Rows of `db.fits.squad_worth.WORTH_COLUMNS`.
    worthwhile_pct
        Smallest change worth having in %, drawn as a line through the rows.
    unit
        Volume unit in words.
    palette
        Colours of the screen.
    """
    rows = worth.reset_index(drop=True)
    records = rows.to_dict("records")
    figure = blank_figure()
    figure.add_scatter(
        x=rows["worth_pct"],
        y=rows.index,
        mode="markers",
        marker={"color": palette.volume, "size": 13},
        error_x=interval_bars(
            rows["worth_pct"], rows["worth_pct_low"], rows["worth_pct_high"], palette.volume, 4
        ),
        text=[numbers.estimated_percent(row, "worth_pct") for row in records],
        hovertemplate="%{text}<extra></extra>",
        name="worth",
    )
    labels = [_label(at, row, unit, palette) for at, row in enumerate(records)]
    line = {
        "x": worthwhile_pct,
        "y": -0.6,
        "yanchor": "bottom",
        "text": f"worth having: {numbers.percent(worthwhile_pct)}",
        "font": {"color": palette.quiet, "size": TEXT_PX},
        "showarrow": False,
    }
    ends = [0.0, worthwhile_pct, *rows["worth_pct_low"], *rows["worth_pct_high"]]
    room = 0.06 * (max(ends) - min(ends))
    figure.update_layout(
        **calm(palette),
        height=ROW_PX * len(rows) + HEAD_PX + FOOT_PX,
        margin={"l": 12, "r": 24, "t": HEAD_PX, "b": FOOT_PX},
        annotations=[*labels, line],
        shapes=[
            {
                "type": "line",
                "x0": worthwhile_pct,
                "x1": worthwhile_pct,
                "y0": -0.6,
                "y1": len(rows) - 0.5,
                "line": {"color": palette.quiet, "width": 2, "dash": "dash"},
                "layer": "below",
            }
        ],
        xaxis={
            "range": [min(ends) - room, max(ends) + room],
            "title": {"text": "what own lengths bring, mean of all athletes, %"},
            "showgrid": True,
        },
        yaxis={"range": [len(rows) - 0.5, -0.6], "showticklabels": False, "showgrid": False},
    )
    quiet_axes(figure, palette)
    return figure


def _label(at: int, row: Row, unit: str, palette: Palette) -> dict[str, object]:
    """Return the label above a row: the single length that own lengths are compared with."""
    return {
        "xref": "paper",
        "x": 0,
        "y": at,
        "yshift": 20,
        "xanchor": "left",
        "text": f"more than {worth_words.length(row, unit)}",
        "font": {"color": palette.text, "size": TEXT_PX},
        "bgcolor": palette.background,
        "showarrow": False,
    }
