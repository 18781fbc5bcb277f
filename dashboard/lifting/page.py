"""The plan of a session: exercises in order, what each needs before its work, and why."""

from __future__ import annotations

from dataclasses import asdict, replace

import streamlit as st

from dashboard.core import dates, terms
from dashboard.lifting import forms, words
from dashboard.lifting.parts import session_parts
from dashboard.lifting.squad_form import show_squad_loads
from dashboard.rules.test_days import athlete_days
from dashboard.screen import doing, elements, selection
from dashboard.screen.access import require
from dashboard.screen.menu import at
from dashboard.screen.reads import ask, own_store
from db.plans.planned_exercises import PlannedExercise, copy_session_plan, save_planned_exercises
from db.plans.readiness import Readiness, readiness, save_readiness
from db.plans.session_plans import delete_session_plan, list_session_plans

PLAN, ADDED = "session_plan", "exercise_added_to"
"""Where the browser session keeps the plan that is shown, and the one last added to."""

person = require("director", "coach")
st.title("Session plan")
doing.show_said()
plans = {row["session_plan_id"]: row for row in ask(list_session_plans).to_dict("records")}
names = selection.athlete_labels(active_only=False)
if not plans:
    st.info(
        "There is no session plan yet. Fill in the session, then add its exercises in order: for"
        " each you see which warm-up it needs, and why."
    )
    forms.plan_form(person, forms.new_plan(), None)
    st.stop()


def plan_label(number: int | None) -> str:
    """Return how a plan is listed."""
    if number is None:
        return "A new plan"
    row = plans[number]
    whom = "" if row["athlete_name"] is None else f", {row['athlete_name']}"
    return f"{dates.day(row['day'])}: {row['name']}{whom}"


chosen = st.session_state.pop(forms.NEW_PLAN, st.session_state.get(PLAN, next(iter(plans))))
# Set on every run, or a field that comes back to the page would show an older choice.
st.session_state[PLAN] = chosen if chosen is None or chosen in plans else next(iter(plans))
number = st.selectbox("Plan", [*plans, None], format_func=plan_label, key=PLAN)
if number is None:
    forms.plan_form(person, forms.new_plan(), None)
    st.stop()
session = ask(session_parts, number)
plan, unit = session.plan, session.plan.load_unit
planned = [part.planned for part in session.parts]


def keep(said: str, exercises: list[PlannedExercise]) -> None:
    """Save the exercises and run again, or say why not."""
    doing.do(said, lambda: save_planned_exercises(own_store(), number, exercises, person.person))


st.header(f"{plan.name}, {dates.day(plan.day, 'full')}")
around = words.around(plan, ask(athlete_days), selection.athlete_labels())
elements.quiet(f"{words.whom(plan, names, around)}{words.note(plan)}")
with st.expander("The session: day, athlete, bar and plates, general part"):
    forms.plan_form(person, plan, number)

st.header(
    "General part", help=terms.explained("general part, dynamic stretching, static stretching")
)
if session.general is None:
    st.warning("None is planned. Nobody begins cold: give it some minutes under The session.")
else:
    if elements.on_phone():
        elements.bullets(words.general_lines(session))
    else:
        st.table(
            words.general_table(session),
            border="horizontal",
            hide_index=True,
            alt="The general part: regions in order with minutes and movements by plane",
        )
    elements.bullets([session.general.unusual, *session.general.cautions])
    elements.quiet("Order and movements: common practice, no source.")

st.header(
    "Exercises",
    help=terms.explained(
        "build-up set, working set, one-repetition maximum, bar speed, load-velocity line"
    ),
)
elements.bullets([*session.remarks, *words.curve_sentences(session)])
for place, part in enumerate(session.parts):
    key = f"exercise_{number}_{place}_{doing.turn()}"
    with st.container(border=True):
        st.markdown(f"**{place + 1}. {part.name}**, {words.work_sentence(part.planned, unit)}")
        st.markdown(words.own_sentence(part))
        table = words.ramp_table(part, unit)
        if not table.empty:
            st.table(
                table,
                border="horizontal",
                hide_index=True,
                alt=f"Build-up and working sets of {part.name}",
            )
        if sentences := words.part_sentences(part, unit):
            elements.bullets(sentences)
        with st.expander("Change, move or take out"):
            with st.container(horizontal=True):
                if place and st.button("Earlier", key=f"{key}_up"):
                    planned.insert(place - 1, planned.pop(place))
                    keep(f"{part.name} stands earlier now.", planned)
                if place + 1 < len(planned) and st.button("Later", key=f"{key}_down"):
                    planned.insert(place + 1, planned.pop(place))
                    keep(f"{part.name} stands later now.", planned)
                if st.button("Take out", key=f"{key}_out"):
                    keep(f"{part.name} is taken out.", [*planned[:place], *planned[place + 1 :]])
            changed = forms.exercise_form(key, part.planned, unit)
            if changed is not None:
                planned[place] = changed
                keep(f"{part.name} is changed.", planned)
        if plan.athlete is not None and part.planned.load is not None:
            with st.expander("Bar speed of the sets"):
                forms.speed_form(person, part, plan.athlete, plan.day, unit)
# People add several exercises in a row, so the form stays open while they do.
with st.expander("Add an exercise", expanded=not planned or number == st.session_state.get(ADDED)):
    key = f"added_{number}_{doing.turn()}"
    if (added := forms.exercise_form(key, None, unit)) is not None:
        st.session_state[ADDED] = number
        keep("The exercise is added. Add the next one, or go on.", [*planned, added])
elements.quiet(
    "Which exercise needs a build-up of its own, the steps of the sets and the order are common"
    " practice, no source."
)

if any(part.working and part.maximum for part in session.parts):
    st.header("The same session for the squad")
    show_squad_loads(person, number, session)

st.header("Before the first working set")
kept = ask(readiness, number) or Readiness()
ticked = Readiness(**forms.readiness_boxes(asdict(kept), number))
if ticked != kept:
    doing.do("Saved.", lambda: save_readiness(own_store(), number, ticked, person.person))
st.write(words.READY if all(asdict(ticked).values()) else words.NOT_YET)
if any(each.goal == "growth" for each in planned):
    st.write(words.GROWTH_EARLY)
st.write(words.HEAVY_CAUTION)

with st.container(horizontal=True):
    st.link_button(
        "Sheet to print (PDF)",
        at(f"/download/session-plan.pdf?plan={number}"),
        key="session_sheet",
    )
    if st.button("Copy for another day or athlete", key="session_copy"):

        def copy() -> None:
            """Copy the plan and choose the copy."""
            st.session_state[forms.NEW_PLAN] = copy_session_plan(
                own_store(), number, replace(plan, name=f"{plan.name[:50]} (copy)"), person.person
            )

        doing.do("This is the copy: change its day and athlete under The session.", copy)
    with st.popover("Delete this plan"):
        st.write("The plan and its exercises go. Sets with bar speed stay.")
        if st.button("Delete it", key="session_delete"):
            doing.do(
                f"{plan.name} is deleted.",
                lambda: delete_session_plan(own_store(), number, person.person),
            )
