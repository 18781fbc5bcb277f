"""Figures on the screen: built once, shown in their own colours, their points clicked."""

from __future__ import annotations

import plotly.graph_objects as go
import streamlit as st

from dashboard import (
    athlete_chart,
    charts,
    how_sure_charts,
    reliability_charts,
    running_charts,
    squad_chart,
)

_kept = st.cache_resource(max_entries=200, show_spinner=False)
# Kept by what they show: to build one takes as long as all the rest of a page.
squad_figure = _kept(squad_chart.squad_figure)
athlete_figure = _kept(athlete_chart.athlete_figure)
bands_figure = _kept(how_sure_charts.bands_figure)
places_figure = _kept(how_sure_charts.places_figure)
noise_figure = _kept(how_sure_charts.noise_figure)
signal_figure = _kept(reliability_charts.signal_figure)
agreement_figure = _kept(reliability_charts.agreement_figure)
trials_figure = _kept(reliability_charts.trials_figure)
efforts_figure = _kept(running_charts.efforts_figure)
before_and_after_figure = _kept(running_charts.before_and_after_figure)


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
