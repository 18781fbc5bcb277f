"""What this is: what it does, its method, its words, its sources, its limits, and its version."""

from __future__ import annotations

from importlib.metadata import version

import pandas as pd
import streamlit as st

from dashboard import about_words, how_sure_words, numbers, terms, words
from dashboard.access import require
from dashboard.reads import own_store

require("director", "coach", "athlete")
st.title("About")
st.write(about_words.WHAT)


def bullets(sentences: tuple[str, ...]) -> None:
    """Show sentences as a list; the words that they use stand below on this page."""
    st.markdown("\n".join(f"- {sentence}" for sentence in sentences))


def table(rows: pd.DataFrame, alt: str) -> None:
    """Show a short table whose cells wrap."""
    st.table(rows, border="horizontal", hide_index=True, alt=alt)


st.subheader("Safety")
bullets(words.CAUTIONS)

st.subheader("How it works")
bullets(about_words.METHOD)

st.subheader("What it takes for granted")
bullets(how_sure_words.ASSUMPTIONS)

st.subheader("What it cannot tell")
bullets(how_sure_words.LIMITS)

st.subheader("Words")
st.markdown(
    "\n".join(f"- **{term.capitalize()}**: {said}" for term, said in sorted(terms.TERMS.items()))
)

st.subheader("Where its constants come from")
st.write(
    "What a warm-up counts for begins with these defaults; the squad's own data change them where"
    " they can tell."
)
table(about_words.constants_table(), "Constants of the warm-up account with range and source")

st.subheader("Where its rules come from")
table(about_words.rules_table(), "Rules and facts, each with its source")

st.subheader("Where its methods come from")
table(about_words.methods_table(), "Methods and the publications that describe them")

st.subheader("Version")
st.write(
    f"warmcurve {version('warmcurve')}. The store stands at its write number"
    f" {numbers.whole(own_store().revision())}. Nothing of it leaves this machine."
)
