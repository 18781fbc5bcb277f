"""A figure of a few estimates in rows, each with its interval and its name."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from dashboard.core import numbers
from dashboard.core.figures import FOOT_PX, TEXT_PX, blank_figure, calm, interval_bars, quiet_axes
from dashboard.core.palette import Palette

ROW_PX = 64


def estimates_figure(rows: pd.DataFrame, title: str, palette: Palette) -> go.Figure:
    """Draw estimates in % with their intervals, one per row, around a line at 0.

    Parameters
    ----------
    rows
        `name`, `value`, `low`, `high`.
    title
        What the axis shows, with its unit.
    palette
        Colours of the screen.
    """
    rows = rows.reset_index(drop=True)
    figure = blank_figure()
    figure.add_scatter(
        x=rows["value"],
        y=rows.index,
        mode="markers",
        marker={"color": palette.volume, "size": 13},
        error_x=interval_bars(rows["value"], rows["low"], rows["high"], palette.volume, 4),
        text=[
            numbers.percent_with_interval(row["value"], row["low"], row["high"])
            for row in rows.to_dict("records")
        ],
        hovertemplate="%{text}<extra></extra>",
        name="estimate",
    )
    ends = [0.0, *rows["low"], *rows["high"]]
    room = 0.06 * (max(ends) - min(ends)) or 1.0
    figure.add_vline(
        x=0.0, line={"color": palette.quiet, "width": 2, "dash": "dash"}, layer="below"
    )
    figure.update_layout(
        **calm(palette),
        height=ROW_PX * len(rows) + FOOT_PX + 12,
        margin={"l": 12, "r": 24, "t": 12, "b": FOOT_PX},
        annotations=[
            {
                "xref": "paper",
                "x": 0,
                "y": at,
                "yshift": 20,
                "xanchor": "left",
                "text": name,
                "font": {"color": palette.text, "size": TEXT_PX},
                "bgcolor": palette.background,
                "showarrow": False,
            }
            for at, name in enumerate(rows["name"])
        ],
        xaxis={
            "range": [min(ends) - room, max(ends) + room],
            "title": {"text": title},
            "showgrid": True,
        },
        yaxis={"range": [len(rows) - 0.5, -0.7], "showticklabels": False, "showgrid": False},
    )
    quiet_axes(figure, palette)
    return figure
