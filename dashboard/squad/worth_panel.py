"""What own lengths are worth, in full: against the standard and the best single length."""

from __future__ import annotations

import streamlit as st

from dashboard.fits.usual_terms import squad_worth
from dashboard.screen import elements, pictures
from dashboard.screen.reads import ask
from dashboard.squad import worth_words
from dashboard.squad.worth_chart import lengths_figure
from db.fits.results import KeptFit
from db.roster.measures import Measure


def show_worth(measure: Measure, fit: KeptFit) -> None:
    """Show what own lengths bring, how surely athletes differ, and what the fit warns of."""
    with st.expander("Are own lengths worth it: against the best single length too"):
        worth = ask(squad_worth, measure.code)
        if worth.empty:
            st.write(worth_words.NOT_WEIGHED)
        else:
            st.write(f"**{worth_words.worth_headline(worth, fit, measure.volume_unit)}.**")
            elements.quiet(
                "dot: mean over the athletes \u00b7 line and brackets: 90\u00a0% of what is"
                " plausible"
            )
            pictures.show(
                pictures.draw(
                    lengths_figure,
                    worth,
                    fit.worthwhile_pct,
                    measure.volume_unit,
                    elements.screen_palette(),
                ),
                key="worth_picture",
                alt=" ".join(worth_words.worth_sentences(worth, fit, measure.volume_unit)),
            )
            elements.bullets(
                [
                    *worth_words.worth_sentences(worth, fit, measure.volume_unit),
                    worth_words.differ_sentence(fit),
                    worth_words.spread_sentence(fit),
                ]
            )
        for warning in fit.warnings.splitlines():
            elements.quiet(warning)
