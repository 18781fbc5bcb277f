"""The picture of which tests to do next."""

from __future__ import annotations

from html import escape

import pandas as pd
import plotly.graph_objects as go

from dashboard.core.figures import FOOT_PX, TEXT_PX, blank_figure, calm, quiet_axes
from dashboard.core.palette import Palette, see_through

ROW_PX = 30
ROOM_FOR_WORDS = 1.7
"""The axis is this many times as long as the longest bar."""


def worth_figure(rows: pd.DataFrame, tests: list[str], palette: Palette) -> go.Figure:
    """Draw what each test is worth as a bar, most worth at the top, with the test beside it.

    Parameters
    ----------
    rows
        As `dashboard.fits.next_tests.listed_tests`.
    tests
        Name of each test.
    palette
        Colours of the screen.
    """
    colours = rows["kind"].map(
        {"fade": palette.volume, "routine": see_through(palette.volume, 0.35)}
    )
    figure = blank_figure()
    figure.add_bar(
        x=rows["worth_pct"],
        y=list(range(len(rows))),
        orientation="h",
        marker={"color": colours, "line": {"color": palette.volume, "width": 1}},
        text=tests,
        textposition="outside",
        textfont={"color": palette.text, "size": TEXT_PX},
        hovertemplate="%{text}: %{x:.2f} %<extra></extra>",
        cliponaxis=False,
    )
    figure.update_layout(
        **calm(palette),
        bargap=0.35,
        height=ROW_PX * len(rows) + FOOT_PX + 12,
        margin={"l": 8, "r": 12, "t": 12, "b": FOOT_PX},
        xaxis={
            "range": [0, ROOM_FOR_WORDS * float(rows["worth_pct"].max())],
            "title": {"text": "expected worth, %"},
            "nticks": 5,
        },
        yaxis={
            "range": [len(rows) - 0.5, -0.5],
            "tickvals": list(range(len(rows))),
            "ticktext": [escape(name) for name in rows["name"]],
            "showgrid": False,
            "automargin": True,
        },
    )
    quiet_axes(figure, palette)
    return figure
