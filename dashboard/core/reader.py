"""The reader: numbers and dates follow their browser, and are in British English elsewhere."""

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
"""The locale of all that is printed, exported or written in a terminal, and of every sentence."""


@dataclass(frozen=True)
class Reader:
    """The reader of an answer outside Streamlit's pages: their locale, and the club's units."""

    locale: Locale
    system: str


_reader: ContextVar[Reader | None] = ContextVar("reader", default=None)


@contextmanager
def written_for(reader: Reader) -> Iterator[None]:
    """Write numbers, dates and units for a reader within the block."""
    token = _reader.set(reader)
    try:
        yield
    finally:
        _reader.reset(token)


def known_reader() -> Reader | None:
    """Return the reader of `written_for`, None outside of it."""
    return _reader.get()


def page_runs() -> bool:
    """Tell whether a page is running for a browser, rather than a command, print or export."""
    # Commands in a terminal do not load Streamlit, because that takes seconds.
    if "streamlit" not in sys.modules:
        return False
    from streamlit.runtime.scriptrunner import get_script_run_ctx

    return get_script_run_ctx(suppress_warning=True) is not None


def reader_locale() -> Locale:
    """Return the locale of the browser that a page runs for; `ENGLISH` if no page runs."""
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
    """Return the known locale that a browser's `Accept-Language` prefers, else `ENGLISH`."""
    found = re.findall(r"([A-Za-z][\w-]*)(?:\s*;\s*q=([\d.]+))?", header)
    liked = sorted(found, key=lambda each: -_quality(each[1]))
    tags = [tag.replace("-", "_") for tag, _ in liked]
    return Locale.negotiate(tags, locale_identifiers()) or ENGLISH


def _quality(text: str) -> float:
    """Return the preference for a language, 1 if it is missing or unreadable."""
    return float(text) if re.fullmatch(r"[01](\.\d*)?", text) else 1.0
