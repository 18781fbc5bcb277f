"""The figure of one athlete: the curve with its band, every effort, best volume and loss."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.core import dates, numbers
from dashboard.core.figures import FOOT_PX, TEXT_PX, blank_figure, calm, quiet_axes
from dashboard.core.palette import Palette, see_through

DEEPEST_PCT = 75.0
"""A band that falls further is cut off here: nobody plans a warm-up around it."""
EXTREME = 0.01
"""This share of an athlete's efforts at either end does not stretch the axis."""


def athlete_figure(
    curve: pd.DataFrame,
    points: pd.DataFrame,
    row: numbers.Row,
    standard: float,
    unit: str,
    palette: Palette,
) -> go.Figure:
    """Draw one athlete's curve with its band, every effort, the best volume and the loss.

    Parameters
    ----------
    curve
        `volume`, `change_pct`, `change_pct_low`, `change_pct_high`; % of the peak, 0 or below.
    points
        `volume`, `told` (the value in words), `share_pct` (value as % of that day's peak) and
        `started_at`; may be empty.
    row
        The athlete's result, by the column names of `db.fits.results.responses`.
    standard
        The volume that the team does today, in `unit`.
    unit
        Volume unit in words, such as `efforts`.
    palette
        Colours of the screen.
    """
    curve = _worth_drawing(curve, points, row, standard)
    figure = blank_figure()
    add_band(figure, curve, palette.volume)
    seen = _seen(curve, points)
    _add_points(figure, points, seen, unit, palette)
    figure.add_scatter(
        x=curve["volume"],
        y=100 + curve["change_pct"],
        mode="lines",
        line={"color": palette.volume, "width": 3},
        hovertemplate=f"after %{{x:.0f}} {unit}: %{{y:.1f}} %<extra></extra>",
        name="curve",
    )
    _add_best(figure, row, seen, palette)
    _add_loss(figure, curve, row, standard, seen, palette)
    _lay_out_athlete(figure, seen, unit, palette)
    return figure


def _worth_drawing(
    curve: pd.DataFrame, points: pd.DataFrame, row: numbers.Row, standard: float
) -> pd.DataFrame:
    """Return the curve as far as this athlete's tests, interval and standard reach."""
    most = max([1.15 * row["best_volume_high"], 1.3 * standard, *(1.1 * points["volume"])])
    return curve[curve["volume"] <= most].sort_values("volume")


def add_band(figure: go.Figure, curve: pd.DataFrame, colour: str) -> None:
    """Draw the 90 % band of a curve, in % of the peak."""
    for side, fill in (("change_pct_low", None), ("change_pct_high", "tonexty")):
        figure.add_scatter(
            x=curve["volume"],
            y=100 + curve[side],
            mode="lines",
            line={"width": 0},
            fill=fill,
            fillcolor=see_through(colour, 0.17),
            hoverinfo="skip",
            name=side,
        )


def _add_points(
    figure: go.Figure, points: pd.DataFrame, seen: _Seen, unit: str, palette: Palette
) -> None:
    """Draw every effort; one outside the range is a triangle at the edge, so that it shows."""
    if points.empty:
        return
    inside = points["share_pct"].clip(seen.lowest, seen.highest)
    figure.add_scatter(
        x=points["volume"],
        y=inside,
        mode="markers",
        marker={
            "color": see_through(palette.quiet, 0.6),
            "size": np.where(inside == points["share_pct"], 6, 9),
            "line": {"width": 0},
            "symbol": np.select(
                [points["share_pct"] < seen.lowest, points["share_pct"] > seen.highest],
                ["triangle-down", "triangle-up"],
                "circle",
            ),
        },
        text=[
            f"{told}, {numbers.percent(share)} of that day's peak"
            for told, share in zip(points["told"], points["share_pct"], strict=True)
        ],
        customdata=[
            "undated" if pd.isna(started) else dates.day(started, "long")
            for started in points["started_at"]
        ],
        hovertemplate=f"%{{customdata}}, after %{{x:.0f}} {unit}: %{{text}}<extra></extra>",
        name="efforts",
    )


@dataclass(frozen=True)
class _Seen:
    """The range that is drawn: volume, and performance in % of the peak."""

    most: float
    lowest: float
    highest: float

    def under(self, share: float) -> float:
        """Return a height below everything drawn, by a share of the drawn height."""
        return self.lowest - share * (self.highest - self.lowest)


def _seen(curve: pd.DataFrame, points: pd.DataFrame) -> _Seen:
    """Return the range to draw: the curve with its band, and all but the most extreme efforts."""
    low, high = points["share_pct"].quantile([EXTREME, 1 - EXTREME]) if len(points) else (97, 100)
    band = max(100 + float(curve["change_pct_low"].min()), DEEPEST_PCT)
    return _Seen(
        most=max([float(curve["volume"].max()), *points["volume"]]),
        lowest=min(band, float(low) - 1, 97.0),
        highest=max(101.0, float(high) + 1),
    )


def _add_best(figure: go.Figure, row: numbers.Row, seen: _Seen, palette: Palette) -> None:
    """Draw the best volume with its interval on a strip of its own under the curve."""
    colour = palette.call(row["call"])
    strip = seen.under(0.16)
    figure.add_scatter(
        x=[row["best_volume_low"], row["best_volume_high"]],
        y=[strip, strip],
        mode="lines",
        line={"color": colour, "width": 4},
        hoverinfo="skip",
        name="best volume interval",
    )
    figure.add_scatter(
        x=[row["best_volume"]],
        y=[strip],
        mode="markers",
        marker={
            "size": 13,
            "color": palette.background if row["call"] == "not known" else colour,
            "line": {"width": 2, "color": colour},
        },
        hoverinfo="skip",
        name="best volume",
    )
    figure.add_annotation(
        x=row["best_volume"],
        y=strip,
        yshift=12,
        yanchor="bottom",
        xanchor="left" if row["best_volume"] < 0.15 * seen.most else "center",
        text=f"best after {numbers.estimated_volume(row)}",
        font={"color": colour, "size": TEXT_PX},
        showarrow=False,
    )


def _add_loss(
    figure: go.Figure,
    curve: pd.DataFrame,
    row: numbers.Row,
    standard: float,
    seen: _Seen,
    palette: Palette,
) -> None:
    """Mark the standard, and the loss there as an arrow from the peak down to the curve."""
    figure.add_shape(
        type="line",
        x0=standard,
        x1=standard,
        y0=seen.lowest,
        y1=seen.highest,
        line={"color": palette.quiet, "width": 2, "dash": "dash"},
        layer="below",
    )
    at_standard = 100 + float(np.interp(standard, curve["volume"], curve["change_pct"]))
    if at_standard < 99.5:
        figure.add_annotation(
            x=standard,
            y=at_standard,
            ax=standard,
            ay=100,
            axref="x",
            ayref="y",
            arrowcolor=palette.text,
            arrowside="end+start",
            arrowhead=2,
            startarrowhead=2,
            arrowwidth=1.5,
            text="",
        )
    on_left = standard < 0.5 * seen.most
    figure.add_annotation(
        x=standard,
        y=1,
        yref="paper",
        yanchor="bottom",
        text=f"standard {numbers.number(standard)}"
        f"<br>{numbers.estimated_percent(row, 'loss_at_standard_pct')} below the peak",
        font={"color": palette.text, "size": TEXT_PX},
        xanchor="left" if on_left else "right",
        align="left" if on_left else "right",
        showarrow=False,
    )


def _lay_out_athlete(figure: go.Figure, seen: _Seen, unit: str, palette: Palette) -> None:
    figure.update_layout(
        **calm(palette),
        height=430,
        margin={"l": 73, "r": 12, "t": 46, "b": FOOT_PX},
        xaxis={
            "range": [-0.01 * seen.most, 1.02 * seen.most],
            "title": {"text": f"{unit} done before"},
            "showgrid": False,
        },
        yaxis={
            "range": [seen.under(0.22), seen.highest + 0.02 * (seen.highest - seen.lowest)],
            "title": {"text": "performance, % of own peak"},
            "tickfont": {"color": palette.quiet, "size": TEXT_PX},
            "automargin": True,
        },
    )
    quiet_axes(figure, palette)
