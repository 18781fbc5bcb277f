"""Small elements that pages share: quiet text, lists, links, bars."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from urllib.parse import urlsplit

import pandas as pd
import streamlit as st

from dashboard.core import terms
from dashboard.core.numbers import Row
from dashboard.core.palette import Palette, palette_of
from dashboard.screen.menu import file_of
from db.tables.limits import Progress

SHOWN_ROWS = 20


ATHLETE_PAGE = file_of("athlete")


BEFORE_PAGE = file_of("before_session")


ENTER_PAGE = file_of("enter_efforts")


IMPORT_PAGE = file_of("import_efforts")


RUN_PAGE = file_of("run_test")


def screen_palette() -> Palette:
    """Return the colours for the reader's screen."""
    return palette_of(st.context.theme.type)


def on_phone() -> bool:
    """Tell whether the browser says that it runs on a phone."""
    return "Mobi" in st.context.headers.get("User-Agent", "")


def host() -> str:
    """Return the scheme and host of this application as the browser knows them.

    Such as `https://club.example`.
    """
    seen = urlsplit(st.context.url or "")
    if seen.netloc:
        return f"{seen.scheme}://{seen.netloc}"
    return f"http://{st.context.headers.get('Host', 'localhost')}"


def quiet(text: str) -> None:
    """Show quiet text that is still legible: Streamlit's captions are too pale for that."""
    st.markdown(f":small[:gray[{text}]]", width="content")


def bullets(sentences: Iterable[str]) -> None:
    """Show sentences as a list, with what their words mean; empty ones are left out."""
    text = "\n".join(f"- {sentence}" for sentence in sentences if sentence)
    st.markdown(text, help=terms.explained(text))


def link_to(script: str, label: str, chosen: Mapping[str, str | list[str]]) -> None:
    """Show a link to a page that opens with something chosen, such as an `athlete` by code."""
    st.page_link(file_of(script), label=label, query_params=dict(chosen), width="stretch")


def progress_bar() -> Progress:
    """Show a bar and return a callback that takes the share done, and what is being done."""
    bar = st.progress(0.0, text="Starting")

    def move(share: float, text: str) -> None:
        bar.progress(share, text=text)

    return move


def row_of(rows: pd.DataFrame, athlete: str) -> Row | None:
    """Return one athlete's row as a mapping, or None if there is none."""
    mine: list[Row] = list(rows[rows["athlete"] == athlete].to_dict("records"))
    return mine[0] if mine else None
