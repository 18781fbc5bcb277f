"""Who reads: used to the numbers and dates of their browser, to British English elsewhere."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache

from babel import Locale, UnknownLocaleError
from babel.localedata import locale_identifiers

__all__ = [
    "ENGLISH",
    "Reader",
    "known_reader",
    "page_runs",
    "preferred_locale",
    "reader_locale",
    "written_for",
]

ENGLISH = Locale("en", "GB")
"""What is printed, exported or written in a terminal is in it, and every sentence."""


@dataclass(frozen=True)
class Reader:
    """Whom an answer beside Streamlit's pages is for: their locale, and the club's units."""

    locale: Locale
    system: str


_reader: ContextVar[Reader | None] = ContextVar("reader", default=None)


@contextmanager
def written_for(reader: Reader) -> Iterator[None]:
    """Write numbers, dates and units for a reader as long as the block lasts."""
    token = _reader.set(reader)
    try:
        yield
    finally:
        _reader.reset(token)


def known_reader() -> Reader | None:
    """Return the reader of `written_for`, None outside of it."""
    return _reader.get()


def page_runs() -> bool:
    """Tell whether this is a page that runs for a browser: no command, print or export."""
    # Whoever reads in a terminal has not loaded Streamlit, which takes seconds.
    if "streamlit" not in sys.modules:
        return False
    from streamlit.runtime.scriptrunner import get_script_run_ctx

    return get_script_run_ctx(suppress_warning=True) is not None


def reader_locale() -> Locale:
    """Return the locale of the browser that a page runs for; `ENGLISH` where none does."""
    if reader := known_reader():
        return reader.locale
    if not page_runs():
        return ENGLISH
    import streamlit as st

    return locale_of(st.context.locale or "")


@cache
def locale_of(tag: str) -> Locale:
    """Return the locale of a browser's language tag, `ENGLISH` for one that is not known."""
    try:
        return Locale.parse(tag, sep="-")
    except (UnknownLocaleError, ValueError):
        return ENGLISH


def preferred_locale(header: str) -> Locale:
    """Return the known locale that a browser's `Accept-Language` likes best, else `ENGLISH`."""
    found = re.findall(r"([A-Za-z][\w-]*)(?:\s*;\s*q=([\d.]+))?", header)
    liked = sorted(found, key=lambda each: -_quality(each[1]))
    tags = [tag.replace("-", "_") for tag, _ in liked]
    return Locale.negotiate(tags, locale_identifiers()) or ENGLISH


def _quality(text: str) -> float:
    """Return how much a language is liked, 1 where nothing readable is said."""
    return float(text) if re.fullmatch(r"[01](\.\d*)?", text) else 1.0
