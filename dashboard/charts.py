"""Figures: rows in, Plotly figure out; nothing here knows the store or the screen."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard import numbers
from dashboard.palette import CALLS, Palette, see_through

CONFIG = {"displayModeBar": False, "scrollZoom": False, "doubleClick": False}
"""How Plotly behaves in the browser: no buttons over the picture, no zooming by accident."""

ROW_PX = 27
HEAD_PX = 34
FOOT_PX = 46
Parts = dict[str, object]
"""Part of a figure, by Plotly's names."""

VOLUME_TICKS = (0, 2, 5, 10, 20, 40, 80, 160, 320, 640)
SMALL_CURVE_POINTS = 24
SMALL_CURVE_LOWEST_PCT = -15.0


def spaced(volume: pd.Series | np.ndarray | float) -> np.ndarray:
    """Return where volumes stand on the squad's axis: log(1 + v) gives 2 and 80 both room."""
    return np.log1p(np.asarray(volume, dtype=float))


def squad_figure(
    responses: pd.DataFrame,
    standard: float,
    unit: str,
    palette: Palette,
    narrow: bool = False,
) -> go.Figure:
    """Draw every athlete's best volume on one axis, longest at the top.

    Parameters
    ----------
    responses
        One row per athlete, by the column names of `db.results.responses`.
    standard
        The volume that the team does today, in `unit`.
    unit
        Volume unit in words, such as `efforts`.
    palette
        Colours of the screen.
    narrow
        Leave the columns at the right to the table below, for a phone.

    Returns
    -------
    plotly.graph_objects.Figure
        Each dot carries its athlete's code as `customdata`, so that a click can open it.
    """
    rows = responses.sort_values("best_volume", kind="stable").reset_index(drop=True)
    figure = go.Figure()
    for call in CALLS:
        _add_call(figure, rows[rows["call"] == call], palette, call, narrow)
    # One assignment of all annotations: plotly checks all of them again at every single one added.
    figure.update_layout(
        shapes=[_standard_line(standard, len(rows), palette)],
        annotations=[
            _standard_label(standard, len(rows), palette),
            *_columns(rows, palette, narrow),
        ],
    )
    _lay_out_squad(figure, rows, standard, unit, palette, narrow)
    return figure


def _add_call(
    figure: go.Figure, rows: pd.DataFrame, palette: Palette, call: str, narrow: bool
) -> None:
    """Draw the rows of one call: 90 % thin, 50 % thick, then the dot."""
    if rows.empty:
        return
    colour = palette.call(call)
    for low, high, width, share in (
        ("best_volume_low", "best_volume_high", 2, 1.0),
        ("best_volume_q25", "best_volume_q75", 8, 0.45),
    ):
        figure.add_scatter(
            x=_strokes(spaced(rows[low]), spaced(rows[high])),
            y=_strokes(rows.index.to_numpy(float), rows.index.to_numpy(float)),
            mode="lines",
            line={"width": width, "color": see_through(colour, share)},
            hoverinfo="skip",
            name=f"{call} {low} {high}",
        )
    figure.add_scatter(
        x=spaced(rows["best_volume"]),
        y=rows.index,
        mode="markers",
        marker={
            "size": 10 if narrow else 13,
            "color": palette.background if call == "not known" else colour,
            "line": {"width": 2, "color": colour},
            "opacity": 1,
        },
        selected={"marker": {"opacity": 1}},
        unselected={"marker": {"opacity": 1}},
        customdata=rows["athlete"],
        text=[_hover(row) for row in rows.to_dict("records")],
        hovertemplate="%{text}<extra></extra>",
        name=call,
    )


def _strokes(start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Return start, end, gap, start, end, gap ...: many strokes in one trace."""
    return np.column_stack([start, end, np.full(len(start), np.nan)]).ravel()


def _hover(row: numbers.Row) -> str:
    return (
        f"<b>{escape(row['name'])}</b><br>best after {numbers.estimated_volume(row)}"
        f"<br>{numbers.estimated_percent(row, 'loss_at_standard_pct')} lost at the standard"
        f"<br>{numbers.evidence(row)}"
    )


def _standard_line(standard: float, rows: int, palette: Palette) -> Parts:
    """Return the standard volume as a line through all rows."""
    at = float(spaced(standard))
    return {
        "type": "line",
        "x0": at,
        "x1": at,
        "y0": -0.6,
        "y1": rows - 0.4,
        "line": {"color": palette.volume, "width": 2, "dash": "dash"},
        "layer": "below",
    }


def _standard_label(standard: float, rows: int, palette: Palette) -> Parts:
    return {
        "x": float(spaced(standard)),
        "y": rows - 0.4,
        "yanchor": "bottom",
        "text": f"standard {numbers.number(standard)}",
        "font": {"color": palette.volume, "size": 13},
        "showarrow": False,
    }


COLUMN_PX = {"call": 16, "advised": 128, "at standard": 200}
"""Distance of each column from the right edge of the axis: call is set left, the others right."""


def _columns(rows: pd.DataFrame, palette: Palette, narrow: bool) -> Iterator[Parts]:
    """Yield the words beside each row: call, advised volume and loss at the standard."""
    columns = ["call"] if narrow else list(COLUMN_PX)
    for column in columns:
        yield _beside(column, len(rows) - 0.4, column, palette.quiet) | {"yanchor": "bottom"}
    for at, row in enumerate(rows.to_dict("records")):
        firm = row["call"] in ("short", "long")
        shown = {
            "call": (f"<b>{row['call']}</b>" if firm else row["call"], palette.call(row["call"])),
            "advised": (f"<b>{numbers.number(row['advised_volume'])}</b>", palette.text),
            "at standard": (numbers.percent(-row["loss_at_standard_pct"]), palette.quiet),
        }
        for column in columns:
            yield _beside(column, at, *shown[column])


def _beside(column: str, y: float, text: str, colour: str) -> Parts:
    return {
        "xref": "paper",
        "x": 1,
        "xshift": COLUMN_PX[column],
        "xanchor": "left" if column == "call" else "right",
        "y": y,
        "yanchor": "middle",
        "text": text,
        "font": {"color": colour, "size": 13},
        "showarrow": False,
    }


def _lay_out_squad(
    figure: go.Figure,
    rows: pd.DataFrame,
    standard: float,
    unit: str,
    palette: Palette,
    narrow: bool,
) -> None:
    most = max(float(rows["best_volume_high"].max()), standard)
    ticks = [tick for tick in VOLUME_TICKS if tick <= most * 1.3] if most > 2 else [0, 1, 2]
    names = [escape(_short_name(name) if narrow else name) for name in rows["name"]]
    figure.update_layout(
        **calm(palette),
        height=ROW_PX * len(rows) + HEAD_PX + FOOT_PX,
        margin={"l": 8, "r": 82 if narrow else 206, "t": HEAD_PX, "b": FOOT_PX},
        xaxis={
            "range": [-0.05, float(spaced(most * 1.08))],
            "tickvals": spaced(np.array(ticks)),
            "ticktext": [str(tick) for tick in ticks],
            "title": {"text": f"warm-up volume at which the athlete is best ({unit})"},
            "showgrid": True,
        },
        yaxis={
            "range": [-0.6, len(rows) - 0.4],
            "tickvals": list(rows.index),
            "ticktext": names,
            "tickfont": {"color": palette.text, "size": 13},
            "showgrid": False,
            "automargin": True,
        },
    )
    quiet_axes(figure, palette)


def _short_name(name: str) -> str:
    """Shorten a first name to its initial, so that a phone keeps room for the axis."""
    first, _, rest = name.partition(" ")
    return f"{first[0]}. {rest}" if rest else name


def calm(palette: Palette) -> Parts:
    """Return what every figure shares: see-through, no legend, nothing drags or zooms."""
    return {
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "font": {"color": palette.text, "size": 13},
        "showlegend": False,
        "dragmode": False,
        "hovermode": "closest",
    }


def quiet_axes(figure: go.Figure, palette: Palette) -> None:
    """Keep both axes still and in the background."""
    quiet = {"color": palette.quiet, "size": 13}
    figure.update_xaxes(
        fixedrange=True,
        zeroline=False,
        gridcolor=palette.grid,
        tickfont=quiet,
        title={"font": quiet, "standoff": 8},
    )
    figure.update_yaxes(
        fixedrange=True, zeroline=False, gridcolor=palette.grid, title={"font": quiet}
    )


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
