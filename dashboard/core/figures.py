"""What figures share: functions from rows to a Plotly figure that know neither store nor screen."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go
import plotly.io

from dashboard.core.numbers import separators
from dashboard.core.palette import Palette

CONFIG = {"displayModeBar": False, "scrollZoom": False, "doubleClick": False}
"""How Plotly behaves in the browser: no buttons over the picture, no zooming by accident."""

HEAD_PX = 34
FOOT_PX = 51
TEXT_PX = 13
FONT = '"Source Sans", sans-serif'
Parts = dict[str, object]
"""Part of a figure, by Plotly's names."""

VOLUME_TICKS = (0, 2, 5, 10, 20, 40, 80, 160, 320, 640)
SMALL_CURVE_POINTS = 24
SMALL_CURVE_LOWEST_PCT = -15.0


def spaced(volume: pd.Series | np.ndarray | float) -> np.ndarray:
    """Return where volumes go on the squad's axis: log(1 + v) leaves room for both 2 and 80."""
    return np.log1p(np.asarray(volume, dtype=float))


def blank_figure() -> go.Figure:
    """Return a figure without a template, as a template makes browsers draw everything twice.

    Streamlit hands every figure to Plotly a second time, as a copy. Plotly takes the template and
    arrays of a copy for new ones, unless `datarevision` (in `calm`) says that they are the same.
    """
    plotly.io.templates.default = None
    return go.Figure()


def interval_bars(
    middle: pd.Series, low: pd.Series, high: pd.Series, colour: str, thickness: float = 2
) -> Parts:
    """Return the bars from low to high around points, as `error_x` or `error_y` take them."""
    return {
        "type": "data",
        "symmetric": False,
        "array": high - middle,
        "arrayminus": middle - low,
        "color": colour,
        "thickness": thickness,
        "width": 0,
    }


def calm(palette: Palette) -> Parts:
    """Return what every figure shares: see-through, no legend, nothing drags or zooms."""
    return {
        "datarevision": 1,
        "separators": separators(),
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "font": {"color": palette.text, "size": TEXT_PX, "family": FONT},
        "showlegend": False,
        "dragmode": False,
        "hovermode": "closest",
        "hoverlabel": {
            "bgcolor": palette.background,
            "bordercolor": palette.grid,
            "font": {"color": palette.text, "size": TEXT_PX, "family": FONT},
        },
    }


def quiet_axes(figure: go.Figure, palette: Palette) -> None:
    """Fix both axes and keep them in the background, with their labels a little apart."""
    quiet = {"color": palette.quiet, "size": TEXT_PX}
    shared: Parts = {
        "fixedrange": True,
        "zeroline": False,
        "gridcolor": palette.grid,
        # There is room for every label, and checking whether one sticks out is slow.
        "ticklabeloverflow": "allow",
    }
    figure.update_layout(margin={"pad": 8})
    figure.update_xaxes(**shared, tickfont=quiet, title={"font": quiet, "standoff": 8})
    figure.update_yaxes(**shared, title={"font": quiet, "standoff": 24})


def small_curves(curves: pd.DataFrame) -> pd.Series:
    """Return each athlete's curve as a short list of % changes for a table cell.

    All lists run over the same volumes, evenly spaced in log(1 + v) from 0 to the largest volume
    that every curve reaches, so that cells can be compared.
    """
    reach = float(curves.groupby("athlete")["volume"].max().min())
    volumes = np.expm1(np.linspace(0, float(spaced(reach)), SMALL_CURVE_POINTS))
    return pd.Series(
        {
            athlete: np.interp(volumes, rows["volume"], rows["change_pct"])
            .clip(SMALL_CURVE_LOWEST_PCT)
            .round(2)
            .tolist()
            for athlete, rows in curves.sort_values("volume").groupby("athlete")
        },
        dtype=object,
    )
