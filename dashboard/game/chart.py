"""The figure of a game's warm-up: every wave, counted back from the start."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from html import escape

import plotly.graph_objects as go

from dashboard.core.figures import FOOT_PX, TEXT_PX, blank_figure, calm, quiet_axes
from dashboard.core.palette import Palette
from dashboard.game.lines import WaveLines
from dashboard.game.words import clock, wave_words

ROW_PX = 58
BAR_WIDTH = 0.5


def timeline_figure(waves: Sequence[WaveLines], unit: str, palette: Palette) -> go.Figure:
    """Draw each wave's prevention, general part, efforts and wait, up to the start.

    Parameters
    ----------
    waves
        One or more waves, of all starts.
    unit
        Volume unit in words.
    palette
        Colours of the screen.
    """
    figure = blank_figure()
    places = [len(waves) - 1 - place for place in range(len(waves))]
    for name, ends, colour, line in (
        ("injury prevention", ("begins_at", "general_at"), palette.quiet, palette.text),
        ("general part", ("general_at", "efforts_at"), palette.background, palette.text),
        ("efforts", ("efforts_at", "ready_at"), palette.volume, palette.volume),
    ):
        _add_part(figure, waves, places, name, ends, colour, line)
    for wave, place in zip(waves, places, strict=True):
        _add_early(figure, wave, place, palette)
        _add_wait(figure, wave, place, palette)
        _add_words(figure, wave, place, unit, palette)
    _lay_out(figure, waves, places, palette)
    return figure


def _add_part(
    figure: go.Figure,
    waves: Sequence[WaveLines],
    places: list[int],
    name: str,
    ends: tuple[str, str],
    colour: str,
    line: str,
) -> None:
    begins = [getattr(wave, ends[0]) for wave in waves]
    lasts = [(getattr(wave, ends[1]) - getattr(wave, ends[0])).total_seconds() for wave in waves]
    figure.add_bar(
        y=places,
        base=begins,
        x=[1000 * seconds for seconds in lasts],
        orientation="h",
        width=BAR_WIDTH,
        marker={"color": colour, "line": {"color": line, "width": 1.5}},
        customdata=[
            f"{clock(begin)} to {clock(getattr(wave, ends[1]))}"
            for begin, wave in zip(begins, waves, strict=True)
        ],
        hovertemplate=f"{name}, %{{customdata}}<extra></extra>",
        name=name,
    )


def _add_early(figure: go.Figure, wave: WaveLines, place: int, palette: Palette) -> None:
    """Draw a line from the first athlete who begins before the wave."""
    if wave.early:
        figure.add_scatter(
            x=[wave.first_at, wave.begins_at],
            y=[place, place],
            mode="lines",
            line={"color": palette.text, "width": 2},
            hoverinfo="skip",
            name="early",
        )


def _add_wait(figure: go.Figure, wave: WaveLines, place: int, palette: Palette) -> None:
    figure.add_scatter(
        x=[wave.ready_at, wave.starts_at],
        y=[place, place],
        mode="lines",
        line={"color": palette.quiet, "width": 2, "dash": "dot"},
        hoverinfo="skip",
        name="wait",
    )
    figure.add_shape(
        type="line",
        x0=wave.starts_at,
        x1=wave.starts_at,
        y0=place - 0.5,
        y1=place + 0.5,
        line={"color": palette.text, "width": 4},
    )


def _add_words(figure: go.Figure, wave: WaveLines, place: int, unit: str, palette: Palette) -> None:
    figure.add_annotation(
        x=wave.first_at,
        y=place + BAR_WIDTH / 2,
        yanchor="bottom",
        xanchor="left",
        align="left",
        text=f"<b>{clock(wave.begins_at)}</b> wave {wave.wave}: {escape(wave_words(wave, unit))}",
        font={"color": palette.text, "size": TEXT_PX},
        showarrow=False,
    )


def _lay_out(
    figure: go.Figure, waves: Sequence[WaveLines], places: list[int], palette: Palette
) -> None:
    figure.update_layout(
        **calm(palette),
        barmode="overlay",
        height=ROW_PX * len(waves) + FOOT_PX + 20,
        margin={"l": 12, "r": 12, "t": 8, "b": FOOT_PX},
        xaxis={
            "type": "date",
            "range": [str(moment) for moment in _seen(waves)],
            "tickformat": "%H:%M",
            "tickfont": {"color": palette.quiet, "size": TEXT_PX},
        },
        yaxis={"range": [-0.6, max(places) + 0.9], "visible": False},
    )
    quiet_axes(figure, palette)


def _seen(waves: Sequence[WaveLines]) -> tuple[datetime, datetime]:
    begins = min(wave.first_at for wave in waves)
    ends = max(wave.starts_at for wave in waves)
    # Labels that begin at the last wave need room too.
    room = max((ends - begins) * 0.05, timedelta(minutes=1))
    return begins - room, ends + room
