"""Figures on the screen: built once, shown in their own colours, their points clicked."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any, ParamSpec

import plotly.graph_objects as go
import streamlit as st

from dashboard import (
    advice_charts,
    athlete_chart,
    charts,
    estimates_chart,
    game_chart,
    how_sure_charts,
    next_test_chart,
    reliability_charts,
    running_charts,
    season_chart,
    squad_chart,
    worth_chart,
)
from dashboard.reader import reader_locale

Wants = ParamSpec("Wants")


def _kept(draw: Callable[Wants, go.Figure]) -> Callable[Wants, go.Figure]:
    """Keep figures by what they show: to build one takes as long as all the rest of a page."""

    @wraps(draw)
    def figure(*args: Wants.args, **kwargs: Wants.kwargs) -> go.Figure:
        name = f"{draw.__module__}.{draw.__qualname__}"
        return _drawn(name, str(reader_locale()), args, kwargs, draw)

    return figure


@st.cache_resource(max_entries=600, show_spinner=False)
def _drawn(
    name: str,
    locale: str,
    args: tuple[Any, ...],
    kwargs: Mapping[str, Any],
    _draw: Callable[..., go.Figure],
) -> go.Figure:
    """Draw; numbers in a figure are written in the reader's locale, so it counts as well."""
    return _draw(*args, **kwargs)


timeline_figure = _kept(game_chart.timeline_figure)
squad_figure = _kept(squad_chart.squad_figure)
athlete_figure = _kept(athlete_chart.athlete_figure)
demand_figure = advice_charts.demand_figure
bands_figure = _kept(how_sure_charts.bands_figure)
places_figure = _kept(how_sure_charts.places_figure)
noise_figure = _kept(how_sure_charts.noise_figure)
worth_figure = _kept(next_test_chart.worth_figure)
signal_figure = _kept(reliability_charts.signal_figure)
agreement_figure = _kept(reliability_charts.agreement_figure)
estimates_figure = _kept(estimates_chart.estimates_figure)
trials_figure = _kept(reliability_charts.trials_figure)
efforts_figure = _kept(running_charts.efforts_figure)
before_and_after_figure = _kept(running_charts.before_and_after_figure)
season_figure = _kept(season_chart.season_figure)
lengths_figure = _kept(worth_chart.lengths_figure)


def show(figure: go.Figure, key: str, alt: str) -> None:
    """Show a figure; `alt` says the same in words."""
    st.plotly_chart(figure, key=key, theme=None, config=charts.CONFIG, alt=alt)


def clicked_point(figure: go.Figure, key: str, alt: str) -> str | None:
    """Show a figure and return the `customdata` of the point that was clicked, if any."""
    shown = st.plotly_chart(
        figure,
        key=key,
        theme=None,
        on_select="rerun",
        selection_mode="points",
        config=charts.CONFIG,
        alt=alt,
    )
    points = shown["selection"]["points"]
    return points[0]["customdata"] if points else None
