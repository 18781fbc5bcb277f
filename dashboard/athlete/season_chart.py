"""The figure of an athlete's season: the level of every session, and where the curve changed."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from dashboard.athlete import change_words
from dashboard.core import dates, numbers
from dashboard.core.figures import FOOT_PX, TEXT_PX, Parts, blank_figure, calm, quiet_axes
from dashboard.core.palette import Palette, see_through

HALF_DAY = pd.Timedelta(hours=12)
MOST_TICKS = 6


def season_figure(
    peaks: pd.DataFrame, change: numbers.Row | None, unit: str, palette: Palette
) -> go.Figure:
    """Draw what the athlete would have shown at the peak in each session, and a likely change.

    Parameters
    ----------
    peaks
        `started_at`, `peak_value` in `unit`, and `efforts` behind it, by time.
    change
        A row of `db.fits.best_volume_changes.best_volume_changes`; None, or one that is not likely,
        draws none. One that cannot be told from a change of level is drawn without its volumes.
    unit
        Unit of the values.
    palette
        Colours of the screen.
    """
    figure = blank_figure()
    figure.add_scatter(
        x=peaks["started_at"],
        y=peaks["peak_value"],
        mode="lines+markers",
        line={"color": see_through(palette.quiet, 0.5), "width": 1},
        marker={"color": palette.volume, "size": 8},
        text=[
            f"{dates.day(row['started_at'], 'long')}: {numbers.figures(row['peak_value'])} {unit}"
            f" at the peak, from {numbers.counted(int(row['efforts']), 'effort')}"
            for row in peaks.to_dict("records")
        ],
        hovertemplate="%{text}<extra></extra>",
        name="level",
    )
    head_px = 12
    if change is not None and change["chance"] >= change_words.LEAST_CHANCE:
        _mark(figure, change, palette)
        head_px = 46
    figure.update_layout(
        **calm(palette),
        height=300,
        margin={"l": 73, "r": 12, "t": head_px, "b": FOOT_PX},
        xaxis={"showgrid": False} | _day_ticks(peaks["started_at"]),
        yaxis={
            "title": {"text": f"at the peak, {unit}"},
            "tickfont": {"color": palette.quiet, "size": TEXT_PX},
            "automargin": True,
        },
    )
    quiet_axes(figure, palette)
    return figure


def _day_ticks(sessions: pd.Series) -> Parts:
    """Return ticks at the first days of months, or at both ends if the season has too few."""
    first, last = sessions.min(), sessions.max()
    starts = pd.date_range(first.normalize(), last, freq="MS")
    days = list(starts[:: max(1, -(-len(starts) // MOST_TICKS))])
    if len(days) < 2:
        days = sorted({first.normalize(), last.normalize()})
    return {
        "tickvals": days,
        "ticktext": [f"{dates.day_of_year(each)}<br>{each.year}" for each in days],
    }


def _mark(figure: go.Figure, change: numbers.Row, palette: Palette) -> None:
    """Mark when the best volume changed: the interval of the date, then the date."""
    figure.add_vrect(
        x0=change["since_earliest"] - HALF_DAY,
        x1=change["since_latest"] + HALF_DAY,
        fillcolor=see_through(palette.volume, 0.17),
        line_width=0,
        layer="below",
    )
    figure.add_vline(
        x=change["since"],
        line={
            "color": palette.volume,
            "width": 2,
            "dash": "solid" if change["tellable"] else "dash",
        },
        layer="below",
    )
    text = "curve or level changed"
    if change["tellable"]:
        text = (
            f"best after {numbers.estimated_volume(change, 'before')}, then"
            f"<br>{numbers.estimated_volume(change, 'after')},"
            f" chance {numbers.chance(change['chance'])}"
        )
    figure.add_annotation(
        x=change["since"],
        y=1,
        yref="paper",
        yanchor="bottom",
        xanchor="center",
        text=text,
        font={"color": palette.text, "size": TEXT_PX},
        showarrow=False,
    )
