"""The director's page before anybody is tested: what a season of tests would tell."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from dashboard.core import terms
from dashboard.screen import elements, selection
from dashboard.screen.access import require
from dashboard.screen.reads import ask
from dashboard.tests import outlook_words
from dashboard.tests.assumed import Known, known_of
from db.roster.athletes import list_athletes
from modeling.day.season_outlook import SeasonPlan, season_outlook
from modeling.testing.simulation import Noise, Protocol

SQUADS, MOST_ATHLETES, USUAL_ATHLETES, MOST_RUNS = 20, 60, 15, 8
OWN, TYPED = "As in our curves", "Typed"
REAL, TIDY = "As real ones may be", "Tidy"

require("director")
st.title("Before testing")
elements.quiet(
    f"{SQUADS} squads with known curves are tested as you plan, and what the fits say is held"
    " against the truth."
)
measure = selection.choose_measure()
known = ask(known_of, measure.code)
active = len(ask(list_athletes, active_only=True))
with st.container(horizontal=True, vertical_alignment="bottom"):
    athletes = st.number_input(
        "Athletes",
        2,
        MOST_ATHLETES,
        min(active, MOST_ATHLETES) if active > 1 else USUAL_ATHLETES,
        key="outlook_athletes",
        persist_state="session",
    )
    tests = st.number_input(
        "Fade tests of each", 0, 10, 1, key="outlook_tests", persist_state="session"
    )
    sessions = st.number_input(
        "Routine sessions of each", 0, 100, 4, key="outlook_sessions", persist_state="session"
    )
source = TYPED
if known is None:
    elements.quiet(
        f"There are no curves of {measure.name.lower()} to learn the noise from, so say what you"
        " expect. What stands there is common practice, no source."
    )
else:
    source = st.segmented_control(
        "Noise, standard and spread", [OWN, TYPED], default=OWN, required=True, key="outlook_source"
    )
assumed = known or Known(unit=measure.volume_unit)
if source == TYPED:
    with st.container(horizontal=True, vertical_alignment="bottom"):
        effort = st.number_input("Efforts differ by, %", 0.1, 30.0, 3.0, 0.1, key="outlook_effort")
        day = st.number_input("Days differ by, %", 0.0, 30.0, 2.0, 0.1, key="outlook_day")
        worthwhile = st.number_input(
            "Smallest change worth having, %",
            0.1,
            20.0,
            float(measure.worthwhile_pct),
            0.1,
            key=f"outlook_worthwhile_{measure.code}",
        )
        standard = st.number_input(
            f"Standard, {measure.volume_unit}", 1.0, 200.0, 15.0, 1.0, key="outlook_standard"
        )
    assumed = replace(
        Known(unit=measure.volume_unit),
        effort_pct=effort,
        day_pct=day,
        worthwhile_pct=worthwhile,
        standard=standard,
    )
kind = st.segmented_control(
    "Simulated squads", [REAL, TIDY], default=REAL, required=True, key="outlook_kind"
)
plan = SeasonPlan(
    athletes=int(athletes),
    protocol=Protocol(int(tests), int(sessions), assumed.standard),
    noise=Noise(assumed.effort_pct / 100.0, assumed.day_pct / 100.0),
    worthwhile_pct=assumed.worthwhile_pct,
    spread=assumed.spread,
    tidy=kind == TIDY,
)
for sentence in (
    outlook_words.plan_sentence(plan),
    outlook_words.spread_sentence(plan, assumed.unit),
    outlook_words.squads_sentence(plan),
):
    st.write(sentence)

runs = st.session_state.setdefault("outlook_runs", {})
if tests + sessions == 0:
    st.info("Plan at least one test or one session.")
    st.stop()
if st.button("Simulate", type="primary", disabled=plan in runs):
    move = elements.progress_bar()
    runs[plan] = season_outlook(
        plan, SQUADS, progress=lambda share: move(share, "Simulating squads")
    )
    for old in list(runs)[:-MOST_RUNS]:
        del runs[old]
    st.rerun()
outlook = runs.get(plan)
if outlook is not None:
    st.header(
        outlook_words.headline(plan, outlook),
        help=terms.explained("length, standard, call, best volume, fade test"),
    )
    elements.bullets(outlook_words.meaning_sentences(outlook))
    st.table(
        outlook_words.outlook_table(outlook, assumed.unit),
        border="horizontal",
        hide_index=True,
        alt="What would be known after these tests, with ranges and counts",
    )
if len(runs) > 1:
    st.header("Plans side by side")
    st.table(
        outlook_words.runs_table(list(runs.items())),
        border="horizontal",
        hide_index=True,
        alt="The plans that were simulated, with what each would tell",
    )
