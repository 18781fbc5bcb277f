"""How whoever reads is used to numbers and dates: by their browser, British English elsewhere."""

from __future__ import annotations

import sys
from functools import cache

from babel import Locale, UnknownLocaleError

__all__ = ["ENGLISH", "page_runs", "reader_locale"]

ENGLISH = Locale("en", "GB")
"""What is printed, exported or written in a terminal is in it, and every sentence."""


def page_runs() -> bool:
    """Tell whether this is a page that runs for a browser: no command, print or export."""
    # Whoever reads in a terminal has not loaded Streamlit, which takes seconds.
    if "streamlit" not in sys.modules:
        return False
    from streamlit.runtime.scriptrunner import get_script_run_ctx

    return get_script_run_ctx(suppress_warning=True) is not None


def reader_locale() -> Locale:
    """Return the locale of the browser that a page runs for; `ENGLISH` where none does."""
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
