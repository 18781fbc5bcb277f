"""Figures of the page `How sure`: intervals first, then points."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.core import numbers
from dashboard.core.figures import (
    FOOT_PX,
    HEAD_PX,
    TEXT_PX,
    VOLUME_TICKS,
    blank_figure,
    calm,
    interval_bars,
    quiet_axes,
    spaced,
)
from dashboard.core.palette import Palette, see_through

BAR_PX = 9
NOISE_ROW_PX = 34
LEFT_PX = 73
NAMES_PX = 140


def bands_figure(bands: pd.DataFrame, unit: str, palette: Palette) -> go.Figure:
    """Draw observed against expected mean differences by volume.

    Parameters
    ----------
    bands
        Rows of `db.fits.fit_checks.BAND_COLUMNS`; differences in % of the athlete's peak that day.
    unit
        Volume unit in words, such as `efforts`.
    palette
        Colours of the screen.
    """
    at = spaced(bands["mean_volume"])
    inside = bands["observed_pct"].between(bands["low_pct"], bands["high_pct"])
    figure = blank_figure()
    figure.add_scatter(
        x=at,
        y=bands["expected_pct"],
        mode="lines",
        line={"color": see_through(palette.volume, 0.6), "width": 2},
        error_y=interval_bars(
            bands["expected_pct"],
            bands["low_pct"],
            bands["high_pct"],
            see_through(palette.volume, 0.45),
            BAR_PX,
        ),
        hoverinfo="skip",
        name="expected",
    )
    figure.add_scatter(
        x=at,
        y=bands["observed_pct"],
        mode="markers",
        marker={
            "color": palette.text,
            "size": np.where(inside, 8, 12),
            "symbol": np.where(inside, "circle", "diamond"),
            "line": {"width": 1, "color": palette.background},
        },
        text=[_band_hover(row, unit) for row in bands.to_dict("records")],
        hovertemplate="%{text}<extra></extra>",
        name="observed",
    )
    most = float(bands["highest_volume"].max())
    ticks = [tick for tick in VOLUME_TICKS if tick <= most]
    figure.update_layout(
        **calm(palette),
        height=380,
        margin={"l": LEFT_PX, "r": 12, "t": HEAD_PX, "b": FOOT_PX},
        xaxis={
            "tickvals": spaced(np.array(ticks)).tolist(),
            "ticktext": [str(tick) for tick in ticks],
            "title": {"text": f"{unit} done before (mean of each band)"},
            "showgrid": False,
        },
        yaxis={
            "title": {"text": "difference from own peak, %"},
            "tickfont": {"color": palette.quiet, "size": TEXT_PX},
            "automargin": True,
        },
    )
    quiet_axes(figure, palette)
    return figure


def _band_hover(row: numbers.Row, unit: str) -> str:
    low, high = (numbers.number(row[f"{end}_volume"]) for end in ("lowest", "highest"))
    return (
        f"after {low} to {high} {unit}: {numbers.counted(int(row['efforts']), 'effort')}"
        f"<br>observed {numbers.percent(row['observed_pct'])}"
        f"<br>expected {numbers.percent(row['expected_pct'])}"
        f" ({numbers.between(row['low_pct'], row['high_pct'], 1)})"
    )


def places_figure(places: pd.DataFrame, palette: Palette) -> go.Figure:
    """Draw how many sessions fell in each tenth of their prediction, over the likely range.

    Parameters
    ----------
    places
        Rows of `db.fits.fit_checks.PLACE_COLUMNS`.
    palette
        Colours of the screen.
    """
    fewest, most = int(places["fewest"].iloc[0]), int(places["most"].iloc[0])
    inside = places["sessions"].between(fewest, most)
    figure = blank_figure()
    figure.add_scatter(
        x=places["tenth"],
        y=places["sessions"],
        mode="markers",
        marker={
            "color": palette.text,
            "size": np.where(inside, 9, 12),
            "symbol": np.where(inside, "circle", "diamond"),
        },
        hovertemplate="tenth %{x}: %{y} sessions<extra></extra>",
        name="sessions",
    )
    figure.update_layout(
        **calm(palette),
        height=260,
        margin={"l": LEFT_PX, "r": 12, "t": HEAD_PX, "b": FOOT_PX},
        shapes=[
            {
                "type": "rect",
                "x0": 0.5,
                "x1": 10.5,
                "y0": fewest,
                "y1": most,
                "fillcolor": see_through(palette.volume, 0.2),
                "line": {"width": 0},
                "layer": "below",
            }
        ],
        xaxis={
            "range": [0.5, 10.5],
            "tickvals": [1, 5.5, 10],
            "ticktext": ["lowest", "middle", "highest"],
            "title": {"text": "tenth of the prediction"},
            "showgrid": False,
        },
        yaxis={
            "range": [0, 1.1 * max(most, int(places["sessions"].max()), 1)],
            "title": {"text": "sessions"},
            "tickfont": {"color": palette.quiet, "size": TEXT_PX},
            "automargin": True,
        },
    )
    quiet_axes(figure, palette)
    return figure


def noise_figure(rows: pd.DataFrame, worthwhile_pct: float, palette: Palette) -> go.Figure:
    """Draw typical errors with their intervals, one per row, against the worthwhile change.

    Parameters
    ----------
    rows
        `name`, `size`, `size_low`, `size_high` in %, as `dashboard.trust.noise_words.noise_rows`.
    worthwhile_pct
        The smallest change worth having.
    palette
        Colours of the screen.
    """
    figure = blank_figure()
    figure.add_scatter(
        x=rows["size"],
        y=rows["name"],
        mode="markers",
        marker={"color": palette.volume, "size": 11},
        error_x=interval_bars(rows["size"], rows["size_low"], rows["size_high"], palette.volume),
        hovertemplate="%{y}: %{x:.1f} %<extra></extra>",
        name="typical error",
    )
    figure.add_vline(
        x=worthwhile_pct, line={"color": palette.quiet, "width": 2, "dash": "dash"}, layer="below"
    )
    figure.update_layout(
        **calm(palette),
        height=NOISE_ROW_PX * len(rows) + FOOT_PX + 12,
        margin={"l": NAMES_PX, "r": 12, "t": 12, "b": FOOT_PX},
        xaxis={
            "range": [0, 1.08 * max(float(rows["size_high"].max()), worthwhile_pct)],
            "title": {"text": "typical error, %"},
            "showgrid": True,
        },
        yaxis={"autorange": "reversed", "showgrid": False, "automargin": True},
    )
    quiet_axes(figure, palette)
    return figure
