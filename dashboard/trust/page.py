"""The director's page: does the model describe this squad, how large is the noise, what helps."""

from __future__ import annotations

import streamlit as st

from dashboard.core import cautions
from dashboard.curve import account_words
from dashboard.fits.learned_files import clubs_heard
from dashboard.fits.usual_terms import latest_check, latest_fit, usual_terms
from dashboard.screen import doing, elements, notices, pictures, selection
from dashboard.screen.access import require
from dashboard.screen.menu import at
from dashboard.screen.reads import ask
from dashboard.trust import how_sure_words, noise_words
from dashboard.trust.data_wanted import data_wanted, wanted_sentence, wanted_table
from dashboard.trust.how_sure_charts import bands_figure, noise_figure, places_figure
from dashboard.trust.other_clubs_form import other_clubs_form
from db.fits.advice_bases import account_constants, level_effects
from db.fits.results import curve_model

person = require("director")
st.title("How sure")
doing.show_said()
measure = selection.choose_measure()
fit = ask(latest_fit, measure.code)
if fit is None:
    notices.no_curves_yet(person, measure)
    st.stop()
check = ask(latest_check, measure.code)
unit, palette = measure.volume_unit, elements.screen_palette()
if check is None:
    notices.work_out_again(
        person,
        measure,
        "which did not check its model against the data",
        "see how sure they are",
    )
else:
    notices.newer_data_notice(person, measure, fit)
    st.header(how_sure_words.verdict(check, fit))
    st.write(how_sure_words.check_sentence(check))

    st.header("Observed against expected")
    elements.quiet(how_sure_words.HOW_TO_READ_BANDS)
    pictures.show(
        pictures.draw(bands_figure, check.bands, unit, palette),
        key=f"bands_{measure.code}",
        alt=how_sure_words.bands_in_words(check.bands, unit),
    )
    elements.bullets(how_sure_words.outside_sentences(check, fit, unit))

    st.header("Sessions against their predictions")
    elements.quiet(how_sure_words.HOW_TO_READ_PLACES)
    pictures.show(
        pictures.draw(places_figure, check.places, palette),
        key=f"places_{measure.code}",
        alt=how_sure_words.places_in_words(check.places),
    )
    st.write(how_sure_words.efforts_sentence(check, fit))

    st.header("How much efforts and days vary")
    elements.bullets(noise_words.noise_sentences(check, fit))
    elements.quiet(noise_words.HOW_TO_READ_NOISE)
    noise = noise_words.noise_rows(check, fit)
    pictures.show(
        pictures.draw(noise_figure, noise, fit.worthwhile_pct, palette),
        key=f"noise_{measure.code}",
        alt=noise_words.noise_in_words(noise, fit.worthwhile_pct),
    )

terms, clubs = ask(usual_terms, measure.code), ask(clubs_heard, measure.code)
if terms is not None:
    st.header("What a warm-up counts for")
    st.write(account_words.usual_sentence(terms))
    st.table(
        account_words.account_table(ask(account_constants, measure.code), unit, clubs),
        border="horizontal",
        hide_index=True,
        alt="Constants of the warm-up account, with intervals and how each is known",
    )
    elements.quiet(account_words.HOW_TO_READ_ACCOUNT)
    effects = ask(level_effects, measure.code)
    if not effects.empty:
        st.write("What moves the level of everybody, whatever the volume:")
        st.table(
            account_words.effects_table(effects),
            border="horizontal",
            hide_index=True,
            alt="Effects on the level, with 90 % intervals",
        )

wanted = ask(data_wanted, measure.code)
st.header("Which data would help")
if wanted.empty:
    st.write("Every active athlete has a firm call and a narrow interval.")
else:
    st.write(wanted_sentence(wanted))
    st.table(
        wanted_table(wanted, fit, unit),
        border="horizontal",
        hide_index=True,
        alt="Athletes whom more data would help, with what and why",
    )
    st.write(cautions.CAUTION)

st.header("What the model assumes")
curves = ask(curve_model, measure.code)
of_curves = how_sure_words.curve_sentences(curves) if curves else []
others = how_sure_words.others_sentences(clubs)
elements.bullets([*of_curves, *others, *how_sure_words.ASSUMPTIONS])
other_clubs_form(person, measure)
st.header("What it cannot tell")
elements.bullets(how_sure_words.LIMITS)

st.header("Download the numbers")
with st.container(horizontal=True):
    offered = {"bands": "Observed and expected"} if check else {}
    for what, label in (offered | {"responses": "Responses"}).items():
        st.link_button(
            f"{label} (CSV)",
            at(f"/download/export/{what}.csv?measure={measure.code}"),
            key=what,
        )
