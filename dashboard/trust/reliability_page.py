"""How far to trust a measure: its noise, the changes it can show, and the sessions that takes."""

from __future__ import annotations

import streamlit as st

from dashboard.core import terms
from dashboard.fits.reliability_frames import measure_reliability
from dashboard.fits.usual_terms import latest_fit
from dashboard.screen import doing, elements, notices, pictures, selection, units
from dashboard.screen.access import require
from dashboard.screen.menu import at
from dashboard.screen.reads import ask
from dashboard.trust import reliability_numbers, reliability_tables, reliability_words
from dashboard.trust.noise_and_signal import noise_and_signal
from dashboard.trust.reliability_charts import agreement_figure, signal_figure, trials_figure
from dashboard.trust.worthwhile_form import worthwhile_form
from db.fits.fit_checks import latest_check

person = require("director", "coach")
st.title("Reliability")
doing.show_said()
measure = selection.choose_measure()
if notices.no_efforts_yet(measure):
    st.stop()
fit, kept = ask(latest_fit, measure.code), ask(measure_reliability, measure.code)
if fit is not None:
    notices.newer_data_notice(person, measure, fit)
if kept.estimates.empty:
    st.info(reliability_words.too_little(kept))
    notices.ways_to_enter()
    st.stop()

basis = st.segmented_control(
    "What stands for a session",
    list(reliability_words.BASIS_LABELS),
    format_func=reliability_words.BASIS_LABELS.__getitem__,
    default="mean",
    required=True,
    key="basis",
)
found = reliability_numbers.estimates_of(kept, basis, measure.unit)
palette = elements.screen_palette()
st.header(
    reliability_words.headline(found, measure),
    help=terms.explained("typical error, smallest worthwhile change, session, interval"),
)
st.write(reliability_words.counts_sentence(kept, measure, person.limited))
elements.bullets(reliability_words.can_and_cannot(found, kept, measure))
worthwhile_form(person, measure, found, kept)

st.header("Noise against signal")
elements.quiet(reliability_words.HOW_TO_READ_SIGNAL)
signal = ask(noise_and_signal, basis)
pictures.show(
    pictures.draw(signal_figure, signal, palette),
    key=f"signal_{basis}",
    alt=reliability_words.signal_in_words(signal),
)

st.header("The numbers")
elements.quiet("In brackets 90\u00a0% intervals.")
st.table(
    reliability_tables.numbers_table(found, measure, fit, ask(latest_check, measure.code)),
    border="horizontal",
    hide_index=True,
    alt="Typical error, changes, correlations and noise, with their intervals",
)

pairs = reliability_numbers.session_pairs(kept, basis, measure.unit)
if "lower_limit" in found and not pairs.empty:
    st.header("One session against the next")
    elements.quiet(reliability_words.HOW_TO_READ_PAIRS)
    pictures.show(
        pictures.draw(agreement_figure, pairs, found, units.shown(measure.unit).unit, palette),
        key=f"pairs_{measure.code}_{basis}",
        alt=reliability_words.pairs_in_words(pairs, found, measure),
    )

trials = kept.trials[kept.trials["basis"] == basis]
if len(trials) > 1:
    st.header("From session to session")
    elements.quiet(reliability_words.HOW_TO_READ_TRIALS)
    pictures.show(
        pictures.draw(trials_figure, trials, palette),
        key=f"trials_{measure.code}_{basis}",
        alt=reliability_words.trials_in_words(trials),
    )

st.header("How many efforts and sessions")
elements.quiet(reliability_words.how_to_read_needs(kept))
st.table(
    reliability_tables.needs_table(kept, measure),
    border="horizontal",
    hide_index=True,
    alt="Sessions that a change takes to show, by efforts in a session",
)

st.header("What these numbers do not say")
elements.bullets(reliability_words.LIMITS)

st.header("Download the numbers")
st.link_button(
    "Reliability (CSV)",
    at(f"/download/export/reliability.csv?measure={measure.code}"),
    key="reliability",
)
