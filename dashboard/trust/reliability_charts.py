"""Figures of the page `Reliability`: intervals first, then points."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape

import pandas as pd
import plotly.graph_objects as go

from dashboard.core import numbers
from dashboard.core.figures import (
    FOOT_PX,
    TEXT_PX,
    Parts,
    blank_figure,
    calm,
    interval_bars,
    quiet_axes,
)
from dashboard.core.palette import Palette, see_through
from dashboard.trust.how_sure_charts import LEFT_PX, NAMES_PX, NOISE_ROW_PX
from dashboard.trust.noise_and_signal import SIGNALS

Estimates = Mapping[str, tuple[float, float, float]]
"""Estimate, low and high by the name of the quantity."""

LINES = {"upper_limit": "dash", "change_in_mean": "solid", "lower_limit": "dash"}


def signal_figure(rows: pd.DataFrame, palette: Palette) -> go.Figure:
    """Draw noise and the changes worth seeing on one axis, measure by measure.

    Parameters
    ----------
    rows
        As `dashboard.trust.noise_and_signal.noise_and_signal`, sizes in %.
    palette
        Colours of the screen.
    """
    labels: list[str] = []
    places: list[int] = []
    for name, part in rows.groupby("measure_name", sort=False):
        labels.append(f"<b>{escape(str(name))}</b>")
        places += range(len(labels), len(labels) + len(part))
        labels += part["name"].tolist()
    placed = rows.assign(at=places)
    figure = blank_figure()
    for signal, colour, symbol in (
        (False, palette.volume, "circle"),
        (True, palette.text, "diamond"),
    ):
        part = placed[placed["name"].isin(SIGNALS) == signal]
        figure.add_scatter(
            x=part["size"],
            y=part["at"],
            mode="markers",
            marker={"color": colour, "size": 11, "symbol": symbol},
            error_x=interval_bars(part["size"], part["size_low"], part["size_high"], colour),
            text=part["name"],
            hovertemplate="%{text}: %{x:.1f} %<extra></extra>",
            name="signal" if signal else "noise",
        )
    figure.update_layout(
        **calm(palette),
        height=NOISE_ROW_PX * len(labels) + FOOT_PX + 12,
        margin={"l": NAMES_PX, "r": 12, "t": 12, "b": FOOT_PX},
        xaxis={
            "range": [0, 1.08 * float(rows["size_high"].max())],
            "title": {"text": "%"},
            "showgrid": True,
        },
        yaxis={
            "range": [len(labels) - 0.5, -0.5],
            "tickvals": list(range(len(labels))),
            "ticktext": labels,
            "showgrid": False,
            "automargin": True,
        },
    )
    quiet_axes(figure, palette)
    return figure


def agreement_figure(
    pairs: pd.DataFrame, estimates: Estimates, unit: str, palette: Palette
) -> go.Figure:
    """Draw the differences of pairs of sessions against their means.

    Parameters
    ----------
    pairs
        `name`, `mean`, `difference`: as `dashboard.trust.reliability_numbers.session_pairs`.
    estimates
        Has `change_in_mean`, `lower_limit` and `upper_limit`, in the unit of the values.
    unit
        Unit of the values.
    palette
        Colours of the screen.
    """
    room = 0.04 * float(pairs["mean"].max() - pairs["mean"].min()) or 1.0
    left, right = float(pairs["mean"].min()) - room, float(pairs["mean"].max()) + room
    figure = blank_figure()
    figure.add_scatter(
        x=pairs["mean"],
        y=pairs["difference"],
        mode="markers",
        marker={"color": palette.text, "size": 8, "opacity": 0.75},
        text=[
            f"{escape(pair['name'])}<br>{numbers.figures(pair['mean'])} {escape(unit)},"
            f" then {numbers.signed(pair['difference'])}"
            for pair in pairs.to_dict("records")
        ],
        hovertemplate="%{text}<extra></extra>",
        name="pairs",
    )
    shapes: list[Parts] = []
    for quantity, dash in LINES.items():
        middle, low, high = estimates[quantity]
        across: Parts = {"x0": left, "x1": right, "layer": "below"}
        shapes.append(
            across
            | {"type": "rect", "y0": low, "y1": high, "line": {"width": 0}}
            | {"fillcolor": see_through(palette.volume, 0.16)}
        )
        line = {"color": palette.volume, "width": 2, "dash": dash}
        shapes.append(across | {"type": "line", "y0": middle, "y1": middle, "line": line})
    ends = [end for quantity in LINES for end in estimates[quantity]]
    lowest = min(*ends, float(pairs["difference"].min()))
    highest = max(*ends, float(pairs["difference"].max()))
    margin = 0.05 * (highest - lowest)
    figure.update_layout(
        **calm(palette),
        height=340,
        margin={"l": LEFT_PX, "r": 12, "t": 12, "b": FOOT_PX},
        shapes=shapes,
        xaxis={
            "range": [left, right],
            "title": {"text": f"mean of both sessions, {unit}"},
            "showgrid": False,
        },
        yaxis={
            "range": [lowest - margin, highest + margin],
            "title": {"text": f"second less first, {unit}"},
            "tickfont": {"color": palette.quiet, "size": TEXT_PX},
            "automargin": True,
        },
    )
    quiet_axes(figure, palette)
    return figure


def trials_figure(trials: pd.DataFrame, palette: Palette) -> go.Figure:
    """Draw how the second, third ... sessions differ from the first.

    Parameters
    ----------
    trials
        Rows of `dashboard.fits.reliability_frames.TRIAL_COLUMNS`, of one basis.
    palette
        Colours of the screen.
    """
    figure = blank_figure()
    figure.add_scatter(
        x=trials["trial"],
        y=trials["change_pct"],
        mode="markers",
        marker={"color": palette.volume, "size": 9},
        error_y=interval_bars(
            trials["change_pct"],
            trials["change_pct_low"],
            trials["change_pct_high"],
            palette.volume,
        ),
        text=[
            f"session {row['trial']}, {numbers.counted(int(row['athletes']), 'athlete')}"
            f"<br>{numbers.percent(row['change_pct'])}"
            f" ({numbers.between(row['change_pct_low'], row['change_pct_high'], 1)})"
            for row in trials.to_dict("records")
        ],
        hovertemplate="%{text}<extra></extra>",
        name="sessions",
    )
    figure.add_hline(y=0, line={"color": palette.quiet, "width": 1}, layer="below")
    figure.update_layout(
        **calm(palette),
        height=280,
        margin={"l": LEFT_PX, "r": 12, "t": 12, "b": FOOT_PX},
        xaxis={
            "range": [0.5, float(trials["trial"].max()) + 0.5],
            "tickvals": trials["trial"].tolist(),
            "title": {"text": "an athlete's compared sessions, in order"},
            "showgrid": False,
        },
        yaxis={
            "title": {"text": "difference from the first, %"},
            "tickfont": {"color": palette.quiet, "size": TEXT_PX},
            "automargin": True,
        },
    )
    quiet_axes(figure, palette)
    return figure
