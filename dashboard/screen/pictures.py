"""Figures on the screen: built once, shown in their own colours, their points clicked."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, ParamSpec

import plotly.graph_objects as go
import streamlit as st

from dashboard.core import figures
from dashboard.core.reader import reader_locale

Wants = ParamSpec("Wants")


def draw(
    figure: Callable[Wants, go.Figure], *args: Wants.args, **kwargs: Wants.kwargs
) -> go.Figure:
    """Return `figure(*args)`, cached by its arguments: building one takes as long as a page."""
    name = f"{figure.__module__}.{figure.__qualname__}"
    return _drawn(name, str(reader_locale()), args, kwargs, figure)


@st.cache_resource(max_entries=600, show_spinner=False)
def _drawn(
    name: str,
    locale: str,
    args: tuple[Any, ...],
    kwargs: Mapping[str, Any],
    _draw: Callable[..., go.Figure],
) -> go.Figure:
    """Draw a figure; its numbers follow the locale, so the cache counts that as well."""
    return _draw(*args, **kwargs)


def show(figure: go.Figure, key: str, alt: str) -> None:
    """Show a figure; `alt` says the same in words."""
    st.plotly_chart(figure, key=key, theme=None, config=figures.CONFIG, alt=alt)


def clicked_point(figure: go.Figure, key: str, alt: str) -> str | None:
    """Show a figure and return the `customdata` of the point that was clicked, if any."""
    shown = st.plotly_chart(
        figure,
        key=key,
        theme=None,
        on_select="rerun",
        selection_mode="points",
        config=figures.CONFIG,
        alt=alt,
    )
    points = shown["selection"]["points"]
    return points[0]["customdata"] if points else None
