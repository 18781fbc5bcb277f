"""The page About: what warmcurve does, its method, words, sources, limits and version."""

from __future__ import annotations

from collections.abc import Iterable
from importlib.metadata import version

import pandas as pd
import streamlit as st

from dashboard.about import words
from dashboard.core import cautions, numbers, terms
from dashboard.screen.access import require
from dashboard.screen.menu import PLACES
from dashboard.screen.reads import own_store
from dashboard.trust import how_sure_words

person = require("director", "coach", "athlete")
st.title("About")
st.write(words.WHAT)


def bullets(sentences: Iterable[str]) -> None:
    """Show sentences as a list; the words they use are explained below on this page."""
    st.markdown("\n".join(f"- {sentence}" for sentence in sentences))


def table(rows: pd.DataFrame, alt: str) -> None:
    """Show a short table whose cells wrap."""
    st.table(rows, border="horizontal", hide_index=True, alt=alt)


st.header("Safety")
bullets(cautions.CAUTIONS)

st.header("Your pages")
bullets(f"**{each.title}**: {each.purpose}" for each in PLACES if person.role in each.roles)

st.header("How it works")
bullets(words.METHOD)

st.header("What it takes for granted")
bullets(how_sure_words.ASSUMPTIONS)

st.header("What it cannot tell")
bullets(how_sure_words.LIMITS)

st.header("Words")
st.markdown(
    "\n".join(f"- **{term.capitalize()}**: {said}" for term, said in sorted(terms.TERMS.items()))
)

st.header("Where its constants come from")
st.write(
    "What a warm-up counts for begins with these defaults; the squad's own data change them where"
    " they can tell."
)
table(words.constants_table(), "Constants of the warm-up account with range and source")

st.header("Where its rules come from")
table(words.rules_table(), "Rules and facts, each with its source")

st.header("Where its methods come from")
table(words.methods_table(), "Methods and the publications that describe them")

st.header("Version")
st.write(
    f"warmcurve {version('warmcurve')}. The store stands at its write number"
    f" {numbers.whole(own_store().revision())}. Nothing of it leaves this machine."
)
