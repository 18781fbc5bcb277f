"""Compare plans with what was done and what came of it, and run trials of two lengths."""

from __future__ import annotations

from datetime import date

import streamlit as st

from dashboard.core import columns, terms
from dashboard.core.estimates_figure import estimates_figure
from dashboard.core.numbers import number, volume
from dashboard.results import outcome_words
from dashboard.results.plan_outcomes import outcomes, plan_outcomes, plan_table
from dashboard.results.trial_screen import show_trials
from dashboard.screen import doing, elements, pictures, selection
from dashboard.screen.access import require
from dashboard.screen.reads import ask
from dashboard.screen.view_notes import note_view_today
from db.plans.trials import running_trials

EVERYBODY = ""

person = require("director", "coach")
st.title("Results")
names = selection.athlete_labels(active_only=False)
if not names:
    selection.no_athletes_yet()
    st.stop()
doing.show_said()
with st.container(horizontal=True):
    athlete = st.selectbox(
        "Whose plans",
        [EVERYBODY, *names],
        format_func=lambda code: names.get(code, "Everybody's"),
        key="outcome_athlete",
        persist_state="session",
    )
    measure = selection.choose_measure()
unit = measure.volume_unit

rows = ask(plan_outcomes, measure, date.today())
if athlete:
    note_view_today(athlete)
    rows = rows[rows["athlete"] == athlete]
if rows.empty:
    st.header("Plans")
    st.info(
        f"No length of {measure.name.lower()} was set for a day up to today. Set lengths on the"
        " page Today, and save there what was done; here you see what came of it."
    )
    st.page_link(elements.BEFORE_PAGE, label="Today")
else:
    found = outcomes(rows, "range")
    st.header(outcome_words.range_answer(found))
    sentences = outcome_words.outcome_sentences(found)
    if found.means:
        pictures.show(
            pictures.draw(
                estimates_figure,
                outcome_words.mean_rows(found),
                "start against the athlete's level, %",
                elements.screen_palette(),
            ),
            key=f"outcomes_{measure.code}_{athlete}",
            alt=" ".join(sentences),
        )
    elements.bullets(sentences)
    if found.means:
        st.write(outcome_words.NO_EXPERIMENT)
        elements.quiet(outcome_words.LEVEL)
    st.header(outcome_words.headline(rows))
    st.write(outcome_words.shares_sentence(rows, unit))
    st.write(outcome_words.set_as_advised(rows, unit))
    with st.expander("Followed against not followed"):
        elements.bullets(outcome_words.outcome_sentences(outcomes(rows)))
    with st.expander("Every plan"):
        st.dataframe(
            plan_table(rows, measure),
            hide_index=True,
            placeholder="",
            column_config={"day": columns.days()},
            alt=f"What was set, done and came of it, {len(rows)} plans, newest first",
        )

st.header("A trial with one athlete", help=terms.meaning("trial"))
if athlete:
    show_trials(person, measure, athlete)
else:
    running = ask(running_trials, measure.code).to_dict("records")
    elements.bullets(
        f"{names[row['athlete']]}: {number(row['first_volume'])} against"
        f" {volume(row['second_volume'], unit)}, {row['recorded']} of {row['sessions']} sessions"
        " recorded"
        for row in running
    )
    st.write(
        "Choose an athlete above to go on with a trial or to set one up."
        if running
        else "No trial is running. Choose an athlete above to set one up: two lengths in an order"
        " drawn by chance tell what plans alone cannot."
    )
