"""Quick entry of one athlete's session by hand."""

from __future__ import annotations

from datetime import date, datetime, time

import streamlit as st

from dashboard.core import cautions, columns, terms
from dashboard.curve.mistyped import be_sure, before_session, session_doubts, volume_doubts
from dashboard.rules import status_words
from dashboard.rules.stop_rules import stop_rule
from dashboard.rules.typed_efforts import typed_efforts
from dashboard.screen import selection
from dashboard.screen.access import require
from dashboard.screen.reads import ask, own_store
from dashboard.tests import typed_words
from db.efforts.rows import sessions
from db.efforts.typed_sessions import SessionEntry, add_session
from db.errors import StoreError

KINDS = {"routine": "Routine session", "fade": "Fade test"}
STORE = "Save this session"
CONTEXTS = ("training", "game", "test", "lifting")

person = require("director", "coach")
st.title("Enter efforts")
names = selection.athlete_labels()
if not names:
    selection.no_athletes_yet()
    st.stop()
measures = selection.measures_by_code()
with st.container(horizontal=True):
    code = st.selectbox(
        "Measure",
        list(measures),
        format_func=lambda code: measures[code].name,
        key="entry_measure",
        persist_state="session",
    )
    kind = st.selectbox(
        "Kind",
        list(KINDS),
        format_func=lambda kind: KINDS[kind],
        key="entry_kind",
        help=terms.explained("fade test, routine session"),
    )
measure = measures[code]
st.write(typed_words.how_to_enter(measure, kind, ask(stop_rule, measure)))

form = f"entry_{st.session_state.setdefault('entries_stored', 0)}"
with st.form(form):
    athlete = st.selectbox(
        "Athlete",
        list(names),
        index=None,
        format_func=lambda code: names[code],
        placeholder="Choose an athlete",
        key=f"{form}_athlete",
    )
    with st.container(horizontal=True):
        day = st.date_input("Day", date.today(), key=f"{form}_day", format="YYYY-MM-DD")
        clock = st.time_input("Started at", time(9, 0), step=300, key=f"{form}_clock")
        context = st.selectbox("Context", CONTEXTS, key=f"{form}_context")
    values = st.text_area(
        f"Values in {measure.unit}, in order",
        key=f"{form}_values",
        placeholder="one after another, with spaces between",
    )
    volumes = st.text_input(
        f"{measure.volume_unit.capitalize()} done before the first, or before each",
        key=f"{form}_volumes",
        placeholder="empty for a fade test after the general part"
        if kind == "fade"
        else "such as 12, or 12 13 14",
    )
    with st.expander("How the athlete felt, and a note"):
        with st.container(horizontal=True):
            scales = {
                scale: st.number_input(
                    f"{scale.capitalize()}, 0 to 10", 0, 10, None, key=f"{form}_{scale}"
                )
                for scale in ("freshness", "joints", "mobility")
            }
        pain = st.selectbox("Pain", ("yes", "no"), index=None, key=f"{form}_pain")
        note = st.text_input("Note", key=f"{form}_note", max_chars=500)
    st.write(cautions.CAUTION)
    submitted = st.form_submit_button(STORE, type="primary")

if submitted:
    try:
        if athlete is None:
            st.error("Choose the athlete first. What was typed is still there.")
            st.stop()
        entry = SessionEntry(
            athlete=athlete,
            measure=measure.code,
            started_at=datetime.combine(day, clock),
            kind=kind,
            context=context,
            facts={
                **{scale: value for scale, value in scales.items() if value is not None},
                **({"pain": pain == "yes"} if pain else {}),
                **({"note": note.strip()} if note.strip() else {}),
            },
            efforts=typed_efforts(values, volumes, kind == "fade", measure.volume_unit),
        )
        known = ask(before_session, measure, athlete)
        typed = [(each.volume_before or 0.0, each.value) for each in entry.efforts]
        doubts = session_doubts(known, measure, typed)
        if kind == "routine":
            most = max((volume for volume, _ in typed), default=0.0)
            doubts += ask(volume_doubts, measure, [athlete], most)
        be_sure(f"{form}_sure", (athlete, values, volumes), doubts, STORE)
        add_session(own_store(), entry, person.person)
    except StoreError as error:
        st.error(f"{error.title}. {error.message} What was typed is still there.")
        st.stop()
    st.session_state["entries_stored"] += 1
    st.session_state["entry_said"] = typed_words.session_stored(entry, names[athlete], measure)
    if pain == "yes":
        st.session_state["entry_warned"] = status_words.PAIN_STORED.format(name=names[athlete])
    st.rerun()
if said := st.session_state.pop("entry_said", None):
    st.success(said)
if warned := st.session_state.pop("entry_warned", None):
    st.warning(warned)

recent = ask(sessions, measure=measure.code, limit=10)
if not recent.empty:
    st.header("Latest sessions")
    st.dataframe(
        recent[["started_at", "name", "kind", "efforts", "lowest_value", "highest_value"]],
        hide_index=True,
        column_config={
            "started_at": columns.moments("started"),
            "name": "athlete",
            "lowest_value": columns.values(f"lowest, {measure.unit}"),
            "highest_value": columns.values(f"highest, {measure.unit}"),
        },
        alt=f"The ten latest sessions of {measure.name.lower()}",
    )
