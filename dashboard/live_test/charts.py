"""Charts of a test: the efforts as they come in, and the curve before and after."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.core.figures import FOOT_PX, TEXT_PX, blank_figure, calm, quiet_axes
from dashboard.core.palette import Palette
from dashboard.curve.chart import add_band

FEWEST_SHOWN = 12
DEEPEST_PCT = 60.0


def efforts_figure(
    efforts: pd.DataFrame, share: float, higher_is_better: bool, unit: str, palette: Palette
) -> go.Figure:
    """Draw the efforts of a running test with the best so far and the line of the stop rule.

    Parameters
    ----------
    efforts
        `effort`, `value` and `excluded`, in order.
    share
        Share of the best so far below which an effort is low.
    higher_is_better
        False for times; the line then lies above the best.
    unit
        Unit of the values.
    palette
        Colours of the screen.
    """
    figure = blank_figure()
    made = int(max(efforts["effort"], default=0))
    best, line = _best_so_far(efforts, share, higher_is_better)
    for values, dash, colour in ((best, "solid", palette.volume), (line, "dash", palette.long)):
        figure.add_scatter(
            x=efforts["effort"],
            y=values,
            mode="lines",
            line={"color": colour, "width": 2, "dash": dash, "shape": "hv"},
            hoverinfo="skip",
        )
    spoiled = efforts["excluded"].notna()
    low = efforts["value"] < line if higher_is_better else efforts["value"] > line
    figure.add_scatter(
        x=efforts["effort"],
        y=efforts["value"],
        mode="markers",
        marker={
            "size": 12,
            "color": np.where(low & ~spoiled, palette.long, palette.text),
            "symbol": np.select([spoiled, low], ["x-thin-open", "triangle-down"], "circle"),
            "line": {"width": 2, "color": palette.quiet},
        },
        hovertemplate=f"effort %{{x}}: %{{y:.4g}} {unit}<extra></extra>",
    )
    _label_lines(figure, efforts, best, line, share, palette)
    figure.update_layout(
        **calm(palette),
        height=300,
        margin={"l": 60, "r": 78, "t": 12, "b": FOOT_PX},
        xaxis={
            "range": [0.4, max(FEWEST_SHOWN, made + 2) + 0.4],
            "title": {"text": "effort"},
            "showgrid": False,
        },
        yaxis={
            "title": {"text": unit},
            "tickfont": {"color": palette.quiet, "size": TEXT_PX},
            "showticklabels": made > 0,
        },
    )
    quiet_axes(figure, palette)
    return figure


def _best_so_far(
    efforts: pd.DataFrame, share: float, higher_is_better: bool
) -> tuple[pd.Series, pd.Series]:
    usable = efforts["value"].where(efforts["excluded"].isna())
    best = (usable.cummax() if higher_is_better else usable.cummin()).ffill()
    return best, best * share if higher_is_better else best / share


def _label_lines(
    figure: go.Figure,
    efforts: pd.DataFrame,
    best: pd.Series,
    line: pd.Series,
    share: float,
    palette: Palette,
) -> None:
    for values, text, colour in (
        (best, "best so far", palette.volume),
        (line, f"{100 * share:g}\u00a0% of it", palette.long),
    ):
        if values.notna().any():
            figure.add_annotation(
                x=int(efforts["effort"].max()),
                y=float(values.iloc[-1]),
                xshift=10,
                xanchor="left",
                text=text,
                font={"color": colour, "size": TEXT_PX},
                showarrow=False,
            )


def before_and_after_figure(
    before: pd.DataFrame, after: pd.DataFrame, reach: float, unit: str, palette: Palette
) -> go.Figure:
    """Draw an athlete's curve with its band, as it was before and with the test folded in.

    Parameters
    ----------
    before, after
        `volume`, `change_pct`, `change_pct_low`, `change_pct_high`; % of the peak.
    reach
        Largest volume worth drawing.
    unit
        Volume unit in words.
    palette
        Colours of the screen.
    """
    figure = blank_figure()
    lowest = 100.0
    for curve, name, colour, dash in (
        (before, "before", palette.quiet, "dash"),
        (after, "with this test", palette.volume, "solid"),
    ):
        shown = curve[curve["volume"] <= reach]
        lowest = min(lowest, 100 + float(shown["change_pct_low"].min()))
        add_band(figure, shown, colour)
        figure.add_scatter(
            x=shown["volume"],
            y=100 + shown["change_pct"],
            mode="lines",
            line={"color": colour, "width": 3, "dash": dash},
            hovertemplate=f"{name}, after %{{x:.0f}} {unit}: %{{y:.1f}} %<extra></extra>",
        )
    figure.update_layout(
        **calm(palette),
        height=340,
        margin={"l": 73, "r": 12, "t": 12, "b": FOOT_PX},
        xaxis={"title": {"text": f"{unit} done before"}, "showgrid": False},
        yaxis={
            "range": [max(lowest, DEEPEST_PCT), 101],
            "title": {"text": "performance, % of own peak"},
            "tickfont": {"color": palette.quiet, "size": TEXT_PX},
        },
    )
    quiet_axes(figure, palette)
    return figure
