"""A figure of coverage and loss against the number of sessions, as an SVG file."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import unquote

import numpy as np
import pandas as pd
import plotly.graph_objects as go
from plotly.offline import get_plotlyjs
from plotly.subplots import make_subplots

from dashboard.core.palette import LIGHT

__all__ = ["sessions_figure", "write_svg"]

WIDTH_PX, HEIGHT_PX = 900, 360
TICKS = (1, 2, 3, 5, 8, 12, 20, 30)

HELD = {
    "best": ("best volume", LIGHT.volume),
    "gain": ("gain", LIGHT.long),
    "hold": ("hold", LIGHT.short),
}
LOST = {
    "loss %": ("at the advised volume", LIGHT.volume),
    "loss % at the length": ("at the length", LIGHT.short),
    "loss % at the standard": ("at the standard", LIGHT.not_known),
}


def sessions_figure(found: pd.DataFrame) -> go.Figure:
    """Draw coverage and losses by the number of sessions (the index), side by side."""
    titles = ("90 % intervals that hold the truth", "Performance given away, %")
    figure = make_subplots(rows=1, cols=2, subplot_titles=titles, horizontal_spacing=0.22)
    for place, lines in enumerate((HELD, LOST), start=1):
        for column, (_, colour) in lines.items():
            figure.add_scatter(
                x=found.index,
                y=found[column],
                mode="lines+markers",
                line={"color": colour, "width": 2},
                marker={"size": 5},
                row=1,
                col=place,
            )
        _name_at_the_end(figure, found, lines, place)
    figure.add_hline(y=0.9, line={"color": LIGHT.quiet, "dash": "dot", "width": 1}, row=1, col=1)
    figure.update_xaxes(
        type="log",
        range=np.log10([0.9 * found.index[0], 1.1 * found.index[-1]]),
        tickangle=0,
        tickvals=TICKS,
        ticktext=[str(tick) for tick in TICKS],
        title="sessions of each athlete",
        gridcolor=LIGHT.grid,
    )
    figure.update_yaxes(gridcolor=LIGHT.grid, zeroline=False)
    figure.update_yaxes(range=[min(0.6, float(found[list(HELD)].min().min())), 1.0], row=1, col=1)
    figure.update_yaxes(rangemode="tozero", row=1, col=2)
    figure.update_layout(
        template=None,
        width=WIDTH_PX,
        height=HEIGHT_PX,
        showlegend=False,
        paper_bgcolor=LIGHT.background,
        plot_bgcolor=LIGHT.background,
        font={"color": LIGHT.text, "size": 13, "family": "sans-serif"},
        margin={"l": 50, "r": 150, "t": 50, "b": 50},
    )
    return figure


def _name_at_the_end(
    figure: go.Figure, found: pd.DataFrame, lines: dict[str, tuple[str, str]], place: int
) -> None:
    """Write each line's name where the line ends, with names at least one text line apart."""
    ends = found[list(lines)].iloc[-1].sort_values()
    top = 1.0 if place == 1 else float(found[list(lines)].max().max())
    bottom = min(0.6, float(found[list(lines)].min().min())) if place == 1 else 0.0
    apart = 0.07 * (top - bottom)
    height = -np.inf
    for column, value in ends.items():
        height = max(float(value), height + apart)
        name, colour = lines[str(column)]
        figure.add_annotation(
            x=np.log10(found.index[-1]),
            y=height,
            text=name,
            font={"color": colour},
            showarrow=False,
            xanchor="left",
            xshift=8,
            row=1,
            col=place,
        )


def write_svg(figure: go.Figure, path: Path) -> None:
    """Let a browser draw the figure, and save it in a file."""
    from tests.dashboard.screens import chromium

    with chromium() as browser:
        page = browser.new_page()
        page.set_content("<html></html>")
        page.add_script_tag(content=get_plotlyjs())
        drawn = page.evaluate(
            "figure => Plotly.toImage(JSON.parse(figure), {format: 'svg'})", figure.to_json()
        )
    path.write_text(unquote(drawn.partition(",")[2]), encoding="utf-8")
