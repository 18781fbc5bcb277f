"""The figure of fade against demand: what to expect at each effort asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
import plotly.graph_objects as go

from dashboard.core.figures import FOOT_PX, TEXT_PX, blank_figure, calm, quiet_axes
from dashboard.core.palette import Palette
from dashboard.curve.chart import add_band

if TYPE_CHECKING:
    from modeling.day.demand import Demand
    from modeling.estimate import Estimate

LOST_AT_PCT = 90.0
DEEPEST_PCT = 60.0


def demand_figure(demand: Demand, palette: Palette) -> go.Figure:
    """Draw expected performance at each effort asked for, with its band, and where 10 % is lost.

    Parameters
    ----------
    demand
        From `modeling.day.demand`.
    palette
        Colours of the screen.
    """
    curve = pd.DataFrame(
        {
            "volume": demand.effort,
            "change_pct": demand.change_pct,
            "change_pct_low": demand.change_pct_low,
            "change_pct_high": demand.change_pct_high,
        }
    )
    figure = blank_figure()
    add_band(figure, curve, palette.volume)
    figure.add_scatter(
        x=curve["volume"],
        y=100 + curve["change_pct"],
        mode="lines",
        line={"color": palette.volume, "width": 3},
        hovertemplate="effort %{x:.0f}: %{y:.1f} %<extra></extra>",
        name="expected",
    )
    _mark_loss(figure, demand.lost_at, len(curve), palette)
    lowest = max(DEEPEST_PCT, min(88.0, 100 + float(curve["change_pct_low"].min())))
    figure.update_layout(
        **calm(palette),
        height=300,
        margin={"l": 73, "r": 12, "t": 12, "b": FOOT_PX},
        xaxis={"title": {"text": "effort of the game or session"}, "showgrid": False},
        yaxis={
            "range": [lowest, 101],
            "title": {"text": "performance, % of own peak"},
            "tickfont": {"color": palette.quiet, "size": TEXT_PX},
            "automargin": True,
        },
    )
    quiet_axes(figure, palette)
    return figure


def _mark_loss(figure: go.Figure, lost: Estimate, asked: int, palette: Palette) -> None:
    """Draw the line at 10 % down and, if the efforts asked for reach it, mark where."""
    figure.add_shape(
        type="line",
        x0=1,
        x1=asked,
        y0=LOST_AT_PCT,
        y1=LOST_AT_PCT,
        line={"color": palette.quiet, "width": 2, "dash": "dash"},
        layer="below",
    )
    figure.add_annotation(
        x=asked,
        y=LOST_AT_PCT,
        xanchor="right",
        yanchor="bottom",
        text="10\u00a0% down",
        font={"color": palette.text, "size": TEXT_PX},
        showarrow=False,
    )
    if lost.median <= asked:
        figure.add_scatter(
            x=[lost.low, min(lost.high, asked)],
            y=[LOST_AT_PCT, LOST_AT_PCT],
            mode="lines",
            line={"color": palette.long, "width": 4},
            hoverinfo="skip",
            name="10 % down, interval",
        )
        figure.add_scatter(
            x=[lost.median],
            y=[LOST_AT_PCT],
            mode="markers",
            marker={"size": 13, "color": palette.long},
            hoverinfo="skip",
            name="10 % down",
        )
