"""Figures: rows in, Plotly figure out; nothing here knows the store or the screen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard import words
from dashboard.palette import CALLS, Palette, see_through

CONFIG = {"displayModeBar": False, "scrollZoom": False, "doubleClick": False}
"""How Plotly behaves in the browser: no buttons over the picture, no zooming by accident."""

ROW_PX = 27
HEAD_PX = 34
FOOT_PX = 46
VOLUME_TICKS = (0, 2, 5, 10, 20, 40, 80, 160, 320, 640)
EXTREME = 0.01
"""This share of an athlete's efforts at either end does not stretch the axis."""
SMALL_CURVE_POINTS = 24
SMALL_CURVE_LOWEST_PCT = -15.0
DEEPEST_PCT = 75.0
"""A band that falls further is cut there: nobody plans a warm-up around it."""


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
    _add_standard(figure, standard, len(rows), palette)
    _add_columns(figure, rows, palette, narrow)
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


def _hover(row: words.Row) -> str:
    return (
        f"<b>{row['name']}</b><br>best after {words.estimated_volume(row)}"
        f"<br>{words.estimated_percent(row, 'loss_at_standard_pct')} lost at the standard"
        f"<br>{words.evidence(row)}"
    )


def _add_standard(figure: go.Figure, standard: float, rows: int, palette: Palette) -> None:
    figure.add_shape(
        type="line",
        x0=float(spaced(standard)),
        x1=float(spaced(standard)),
        y0=-0.6,
        y1=rows - 0.4,
        line={"color": palette.volume, "width": 2, "dash": "dash"},
        layer="below",
    )
    figure.add_annotation(
        x=float(spaced(standard)),
        y=rows - 0.4,
        text=f"standard {words.number(standard)}",
        font={"color": palette.volume, "size": 13},
        showarrow=False,
        yanchor="bottom",
    )


COLUMN_PX = {"call": 16, "advised": 128, "at standard": 200}
"""Distance of each column from the right edge of the axis: call is set left, the others right."""


def _add_columns(figure: go.Figure, rows: pd.DataFrame, palette: Palette, narrow: bool) -> None:
    """Write call, advised volume and loss at the standard beside each row."""
    columns = ["call"] if narrow else list(COLUMN_PX)
    for column in columns:
        _write(figure, column, len(rows) - 0.4, column, palette.quiet, "bottom")
    for at, row in enumerate(rows.to_dict("records")):
        firm = row["call"] in ("short", "long")
        shown = {
            "call": f"<b>{row['call']}</b>" if firm else row["call"],
            "advised": f"<b>{words.number(row['advised_volume'])}</b>",
            "at standard": words.percent(-row["loss_at_standard_pct"]),
        }
        colours = {
            "call": palette.call(row["call"]),
            "advised": palette.text,
            "at standard": palette.quiet,
        }
        for column in columns:
            _write(figure, column, at, shown[column], colours[column], "middle")


def _write(figure: go.Figure, column: str, y: float, text: str, colour: str, yanchor: str) -> None:
    figure.add_annotation(
        xref="paper",
        x=1,
        xshift=COLUMN_PX[column],
        xanchor="left" if column == "call" else "right",
        y=y,
        yanchor=yanchor,
        text=text,
        font={"color": colour, "size": 13},
        showarrow=False,
    )


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
    names = [_short_name(name) if narrow else name for name in rows["name"]]
    figure.update_layout(
        **_calm(palette),
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
    _quiet_axes(figure, palette)


def _short_name(name: str) -> str:
    """Return `A. Linde` for `Ada Linde`, so that a phone keeps room for the axis."""
    first, _, rest = name.partition(" ")
    return f"{first[0]}. {rest}" if rest else name


def _calm(palette: Palette) -> dict[str, object]:
    """Return what every figure shares: see-through, no legend, nothing drags or zooms."""
    return {
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "font": {"color": palette.text, "size": 13},
        "showlegend": False,
        "dragmode": False,
        "hovermode": "closest",
    }


def _quiet_axes(figure: go.Figure, palette: Palette) -> None:
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


def athlete_figure(
    curve: pd.DataFrame,
    points: pd.DataFrame,
    row: words.Row,
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
        `volume`, `share_pct` (value as % of that day's peak) and `started_at`; may be empty.
    row
        The athlete's result, by the column names of `db.results.responses`.
    standard
        The volume that the team does today, in `unit`.
    unit
        Volume unit in words, such as `efforts`.
    palette
        Colours of the screen.
    """
    curve = _worth_drawing(curve, points, row, standard)
    figure = go.Figure()
    _add_band(figure, curve, palette)
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
    curve: pd.DataFrame, points: pd.DataFrame, row: words.Row, standard: float
) -> pd.DataFrame:
    """Return the curve as far as this athlete's tests, interval and standard reach."""
    most = max([1.15 * row["best_volume_high"], 1.3 * standard, *(1.1 * points["volume"])])
    return curve[curve["volume"] <= most].sort_values("volume")


def _add_band(figure: go.Figure, curve: pd.DataFrame, palette: Palette) -> None:
    for side, fill in (("change_pct_low", None), ("change_pct_high", "tonexty")):
        figure.add_scatter(
            x=curve["volume"],
            y=100 + curve[side],
            mode="lines",
            line={"width": 0},
            fill=fill,
            fillcolor=see_through(palette.volume, 0.17),
            hoverinfo="skip",
            name=side,
        )


def _add_points(
    figure: go.Figure, points: pd.DataFrame, seen: _Seen, unit: str, palette: Palette
) -> None:
    """Draw every effort; one far off stands as a triangle at the edge, so that it shows."""
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
            "symbol": np.select(
                [points["share_pct"] < seen.lowest, points["share_pct"] > seen.highest],
                ["triangle-down", "triangle-up"],
                "circle",
            ),
        },
        text=points["share_pct"].round(1),
        customdata=points["started_at"].dt.strftime("%d %B %Y"),
        hovertemplate=f"%{{customdata}}, after %{{x:.0f}} {unit}: %{{text}} %<extra></extra>",
        name="efforts",
    )


@dataclass(frozen=True)
class _Seen:
    """What is drawn of curve and points: volume, and performance in % of the peak."""

    most: float
    lowest: float
    highest: float

    def under(self, share: float) -> float:
        """Return a height below everything drawn, by a share of the drawn height."""
        return self.lowest - share * (self.highest - self.lowest)


def _seen(curve: pd.DataFrame, points: pd.DataFrame) -> _Seen:
    """Return what to draw: the curve with its band, and all but the most extreme efforts."""
    low, high = points["share_pct"].quantile([EXTREME, 1 - EXTREME]) if len(points) else (97, 100)
    band = max(100 + float(curve["change_pct_low"].min()), DEEPEST_PCT)
    return _Seen(
        most=max([float(curve["volume"].max()), *points["volume"]]),
        lowest=min(band, float(low) - 1, 97.0),
        highest=max(101.0, float(high) + 1),
    )


def _add_best(figure: go.Figure, row: words.Row, seen: _Seen, palette: Palette) -> None:
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
        text=f"best after {words.estimated_volume(row)}",
        font={"color": colour, "size": 13},
        showarrow=False,
    )


def _add_loss(
    figure: go.Figure,
    curve: pd.DataFrame,
    row: words.Row,
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
        text=f"standard {words.number(standard)}"
        f"<br>{words.estimated_percent(row, 'loss_at_standard_pct')} below the peak",
        font={"color": palette.text, "size": 13},
        xanchor="left" if on_left else "right",
        align="left" if on_left else "right",
        showarrow=False,
    )


def _lay_out_athlete(figure: go.Figure, seen: _Seen, unit: str, palette: Palette) -> None:
    figure.update_layout(
        **_calm(palette),
        height=430,
        margin={"l": 8, "r": 12, "t": 46, "b": FOOT_PX},
        xaxis={
            "range": [-0.01 * seen.most, 1.02 * seen.most],
            "title": {"text": f"{unit} done before"},
            "showgrid": False,
        },
        yaxis={
            "range": [seen.under(0.22), seen.highest + 0.02 * (seen.highest - seen.lowest)],
            "title": {"text": "performance, % of own peak"},
            "tickfont": {"color": palette.quiet, "size": 13},
            "automargin": True,
        },
    )
    _quiet_axes(figure, palette)


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
