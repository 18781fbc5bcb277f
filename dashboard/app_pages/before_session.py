"""The coach's page before a game or session: what is advised, what is set, and the sheet."""

from __future__ import annotations

from datetime import date

import pandas as pd
import streamlit as st

from dashboard import day_words, numbers, page_parts, tables, words
from dashboard.access import require
from dashboard.plan_sheet import plan_rows
from dashboard.reads import ask, own_store
from db.errors import StoreError
from db.plans import PlanEntry, save_choice
from db.results import latest_fit

MOST_EFFORTS_TO_FOLLOW = 500
GOALS = {"best": "One best effort", "sustained": "Best average over the efforts to follow"}

person = require("director", "coach")
st.title("Before the session")
with st.container(horizontal=True):
    measure = page_parts.choose_measure()
    day = st.date_input(
        "Day", date.today(), key="plan_day", format="YYYY-MM-DD", persist_state="session"
    )
    goal = st.selectbox(
        "Goal",
        list(GOALS),
        format_func=lambda code: GOALS[code],
        key="plan_goal",
        persist_state="session",
    )
    to_follow = 1
    if goal == "sustained":
        to_follow = int(
            st.number_input(
                "Efforts to follow",
                1,
                MOST_EFFORTS_TO_FOLLOW,
                10,
                key="plan_efforts",
                persist_state="session",
            )
        )
fit = ask(latest_fit, measure.code)
if fit is None:
    page_parts.no_curves_yet(person, measure)
    st.stop()
page_parts.newer_data_notice(person, measure, fit)

unit, standard = measure.volume_unit, fit.standard_volume
everyone = ask(plan_rows, measure.code, day, to_follow)
names = page_parts.athlete_labels()
away = st.multiselect(
    "Not here today",
    list(names),
    format_func=lambda code: names[code],
    key="plan_away",
    persist_state="session",
    placeholder="Everybody is here",
)
rows = everyone[~everyone["athlete"].isin(away)].reset_index(drop=True)
if rows.empty:
    st.info("Nobody is left for this session. Take somebody out of 'Not here today'.")
    st.stop()


def entry(row: numbers.Row, volume: float, reason: str) -> PlanEntry:
    """Return the choice of one athlete's length as it is kept."""
    return PlanEntry(
        day=day,
        athlete=row["athlete"],
        measure=measure.code,
        goal=goal,
        efforts_to_follow=to_follow,
        advised_volume=None if pd.isna(row["advised_volume"]) else row["advised_volume"],
        standard_volume=standard,
        chosen_volume=volume,
        reason=reason,
    )


def keep(choices: list[PlanEntry]) -> None:
    """Keep choices and show them, or say what was wrong with one."""
    try:
        for choice in choices:
            save_choice(own_store(), choice, person.person)
    except StoreError as error:
        st.error(f"{error.title}. {error.message}")
        return
    st.rerun()


def choose_row() -> None:
    """Put the athlete of the row that was clicked into the form."""
    picked = st.session_state["plan_table"]["selection"]["rows"]
    if picked:
        st.session_state["plan_athlete"] = rows["athlete"][picked[0]]


st.subheader("Your choice")
athlete = st.selectbox(
    "For, or click a row below",
    list(rows["athlete"]),
    format_func=lambda code: names[code],
    key="plan_athlete",
)
row = rows[rows["athlete"] == athlete].to_dict("records")[0]
with st.form(f"choice_{measure.code}_{day}_{to_follow}_{athlete}"):
    st.write(day_words.choice_sentence(row, standard, unit))
    with st.container(horizontal=True, vertical_alignment="bottom"):
        volume = st.number_input(
            f"Length in {unit}",
            min_value=0.0,
            max_value=10_000.0,
            value=numbers.first_known(row["chosen_volume"], row["advised_volume"], standard),
            step=1.0,
            format="%g",
            key=f"plan_volume_{measure.code}_{day}_{to_follow}_{athlete}",
        )
        reason = st.text_input(
            "Reason, needed when it is not the advised length",
            value=row["reason"],
            max_chars=160,
            key=f"plan_reason_{measure.code}_{day}_{to_follow}_{athlete}",
        )
        submitted = st.form_submit_button("Keep this length", type="primary")
if submitted:
    if volume == row["advised_volume"] or reason.strip():
        keep([entry(row, float(volume), reason.strip())])
    else:
        st.error(
            "Say in a few words why it is not the advised length, so that it can be looked at"
            " afterwards. Nothing has been kept yet; what was typed is still there."
        )

page_parts.quiet(day_words.plan_caption(rows, fit, unit, to_follow))
st.dataframe(
    tables.day_plan(rows, standard),
    key="plan_table",
    hide_index=True,
    height="content",
    on_select=choose_row,
    selection_mode="single-row",
    placeholder="",
    column_config={
        "set": st.column_config.NumberColumn(f"set, {unit}", format="%g"),
        "advised": st.column_config.NumberColumn(format="%g"),
        "standard": st.column_config.NumberColumn(format="%g"),
        "lost %": st.column_config.NumberColumn(format="%.1f", help="At the standard"),
    },
    alt=f"What is advised and what is set for {len(rows)} athletes",
)
st.write(words.CAUTION)

unset = rows[rows["chosen_volume"].isna() & rows["advised_volume"].notna()].to_dict("records")
with st.container(horizontal=True, vertical_alignment="center"):
    if unset and st.button(
        f"Keep the advised length for {numbers.counted(len(unset), 'athlete')} not set yet",
        key="keep_advised",
    ):
        keep([entry(each, each["advised_volume"], "") for each in unset])
    if rows["chosen_volume"].notna().any():
        st.link_button(
            "Sheet to print (PDF)",
            f"/download/sheet.pdf?day={day}&measure={measure.code}",
            key="plan_sheet",
        )
    else:
        page_parts.quiet("The sheet prints what is kept: keep the lengths first.")
