"""The club's limit for a measure, for the director: what it is, and who loses how much by it."""

from __future__ import annotations

from math import isfinite

import pandas as pd
import streamlit as st

from dashboard.core.numbers import estimated_percent, number, volume
from dashboard.curve.words import limit_sentence
from dashboard.fits.curve_rows import curve_rows
from dashboard.rules.club_limits import HIGHEST_MOST, most_allowed, set_most_allowed
from dashboard.screen import doing
from dashboard.screen.reads import ask, own_store
from db.people.accounts import Person
from db.roster.measures import Measure


def limit_form(person: Person, measure: Measure, rows: pd.DataFrame) -> None:
    """Say who loses how much by the club's limit, and let a director change it."""
    most, unit = ask(most_allowed, measure), measure.volume_unit
    told = f"at most {volume(most, unit)}" if isfinite(most) else "no limit set"
    with st.expander(f"Maximal efforts before a start and in a day: {told}"):
        st.write(limited_sentence(rows, unit))
        with st.form(f"limit_{measure.code}", border=False):
            asked = st.number_input(
                f"Most {unit} before a start and in a day",
                1.0,
                None,
                most if isfinite(most) else None,
                1.0,
                "%g",
                key=f"most_{measure.code}_{doing.turn()}",
                help="Usual: 25 jumps, 15 sprints, 40 throws, under 18 six tenths of it (common"
                f" practice, no source). A number up to {number(HIGHEST_MOST)}.",
            )
            pressed = st.form_submit_button("Save the limit")
        if pressed and asked is not None:
            doing.do(
                "The limit is saved. All lengths stay under it from now on.",
                lambda: set_most_allowed(own_store(), measure, asked, person.person),
            )


def limited_sentence(rows: pd.DataFrame, unit: str) -> str:
    """Return whose length the limit cuts, from rows of `dashboard.fits.lengths.responses`."""
    capped = curve_rows(rows[rows["limited_by"] == "club"])
    if not capped:
        return "It keeps nobody shorter than their curve asks for."
    return " ".join(
        f"{row['name']}: {volume(row['length'], unit)}.{limit_sentence(row)}"
        f" {estimated_percent(row, 'lost_pct')} is lost."
        for row in capped
    )
