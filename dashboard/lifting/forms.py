"""Forms of a session plan: the session itself, one exercise, one set with bar speed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import streamlit as st

from dashboard.core import dates, numbers
from dashboard.lifting import bar_speed_words, words
from dashboard.lifting.parts import ExercisePart
from dashboard.lifting.plates import (
    HOW_TO_WRITE,
    USUAL_BARS,
    USUAL_PLATES,
    barbell_of,
    from_kg,
    load_text,
    to_kg,
)
from dashboard.screen import doing, elements, selection
from dashboard.screen.reads import ask, own_store
from db.people.accounts import Person
from db.plans.exercises import list_exercises
from db.plans.lifted_sets import BARS, SPEED_KINDS, add_lifted_set, strike_out_set
from db.plans.planned_exercises import GOALS, PlannedExercise
from db.plans.session_plans import (
    LOAD_UNITS,
    LONGEST_NAME,
    LONGEST_NOTE,
    MOST_HOLD_S,
    MOST_LOAD,
    MOST_MINUTES,
    SessionPlan,
    save_session_plan,
)
from db.tables.cells import LEAST_GENERAL_MINUTES
from modeling.lifting.session_order import goal_name

NEW_PLAN = "session_plan_made"
"""Where the browser session keeps a plan that was just made, to choose it on the next run."""


def plan_form(person: Person, plan: SessionPlan, number: int | None) -> None:
    """Show the form of a session and save it, as a new plan if there is no number."""
    key, names = f"plan_{number}_{doing.turn()}", selection.athlete_labels()
    with st.form(f"{key}_form"):
        with st.container(horizontal=True):
            name = st.text_input("Name", plan.name, LONGEST_NAME, key=f"{key}_name")
            day = st.date_input("Day", plan.day, format="YYYY-MM-DD", key=f"{key}_day")
            athlete = _one_or_none("For", names, plan.athlete, "Nobody in particular", key)
        bar, unit, plates = _bar_fields(plan, key)
        with st.container(horizontal=True, vertical_alignment="bottom"):
            minutes = st.number_input(
                "General part, minutes",
                LEAST_GENERAL_MINUTES,
                MOST_MINUTES,
                max(plan.general_minutes, LEAST_GENERAL_MINUTES),
                1.0,
                "%g",
                help="5 to 7 minutes before lifting, 8 to 15 before sprints, jumps or throws.",
                key=f"{key}_minutes",
            )
            hold = st.number_input(
                "Longest static hold, seconds",
                0.0,
                MOST_HOLD_S,
                plan.static_hold_s,
                5.0,
                "%g",
                key=f"{key}_hold",
            )
            stiff = st.checkbox("Stiff or slow to start", plan.stiff, key=f"{key}_stiff")
        measures = {each.code: each.name for each in selection.measures_with_data().values()}
        measure = _one_or_none("Curve to go by", measures, plan.measure, "None", key)
        note = st.text_input("Note", plan.note, LONGEST_NOTE, key=f"{key}_note")
        asked = st.form_submit_button("Save the session", type="primary")
    if asked:
        changed = SessionPlan(
            name=name.strip(),
            day=day,
            athlete=athlete,
            measure=measure,
            load_unit=unit,
            bar_load=bar,
            plates=plates.strip(),
            general_minutes=minutes,
            stiff=stiff,
            static_hold_s=hold,
            note=note.strip(),
        )

        def keep() -> None:
            barbell_of(bar, plates)
            st.session_state[NEW_PLAN] = save_session_plan(
                own_store(), changed, person.person, number
            )

        doing.do(f"{changed.name} is saved.", keep)


def _bar_fields(plan: SessionPlan, key: str) -> tuple[float, str, str]:
    with st.container(horizontal=True):
        unit = st.selectbox(
            "Loads in",
            LOAD_UNITS,
            LOAD_UNITS.index(plan.load_unit),
            help="Loads of the exercises keep their numbers when this is changed.",
            key=f"{key}_unit",
        )
        bar = st.number_input(
            "Bar, with collars", 0.0, MOST_LOAD, plan.bar_load, 2.5, "%g", key=f"{key}_bar"
        )
        plates = st.text_input(
            "Plates, in pairs", plan.plates, 200, help=HOW_TO_WRITE, key=f"{key}_plates"
        )
    return bar, unit, plates


def _one_or_none(
    label: str, offered: Mapping[str, str], chosen: str | None, none: str, key: str
) -> str | None:
    options = [None, *offered]
    return st.selectbox(
        label,
        options,
        options.index(chosen) if chosen in options else 0,
        format_func=lambda code: none if code is None else offered[code],
        key=f"{key}_{label}",
    )


def new_plan(unit: str = "kg") -> SessionPlan:
    """Return what a new plan begins with."""
    return SessionPlan(
        "", date.today(), load_unit=unit, bar_load=USUAL_BARS[unit], plates=USUAL_PLATES[unit]
    )


def exercise_form(key: str, planned: PlannedExercise | None, unit: str) -> PlannedExercise | None:
    """Show the form of an exercise, and return the exercise when it is to be saved."""
    library = {
        row["exercise"]: row["name"]
        for row in ask(list_exercises).to_dict("records")
        if row["active"] or (planned and row["exercise"] == planned.exercise)
    }
    start = planned or PlannedExercise(next(iter(library)), "strength")
    with st.form(key, border=False):
        with st.container(horizontal=True):
            exercise = st.selectbox(
                "Exercise",
                list(library),
                None if planned is None else list(library).index(planned.exercise),
                format_func=lambda code: library[code],
                placeholder="Choose an exercise",
                key=f"{key}_exercise",
            )
            goal = st.selectbox(
                "Goal",
                GOALS,
                GOALS.index(start.goal),
                format_func=goal_name,
                key=f"{key}_goal",
            )
        with st.container(horizontal=True):
            sets = st.number_input("Working sets", 1, 20, start.working_sets, key=f"{key}_sets")
            repetitions = st.number_input(
                "Repetitions", 1, 100, start.repetitions, key=f"{key}_repetitions"
            )
            load = _load_field(f"Working load, {unit}", start.load, f"{key}_load")
        with st.container(horizontal=True):
            on_bar = st.checkbox("On the bar", start.on_bar, key=f"{key}_bar")
            learned = st.checkbox("Still being learned", start.being_learned, key=f"{key}_learned")
        elements.quiet(
            "The one-repetition maximum: give it, or a hard set of 2 to 10 repetitions to go by;"
            " else the athlete's own load-velocity line is used where there is one."
        )
        with st.container(horizontal=True):
            maximum = _load_field(f"Maximum, {unit}", start.one_repetition_max, f"{key}_maximum")
            tested = _load_field(f"Hard set, {unit}", start.tested_load, f"{key}_tested")
            of_tested = st.number_input(
                "Its repetitions", 2, 10, start.tested_repetitions, key=f"{key}_of_tested"
            )
        asked = st.form_submit_button("Save the exercise", type="primary")
    if not asked:
        return None
    if exercise is None:
        st.error("Choose the exercise first. What was typed is still there.")
        return None
    return PlannedExercise(
        exercise, goal, learned, on_bar, sets, repetitions, load, maximum, tested, of_tested
    )


def _load_field(label: str, load: float | None, key: str) -> float | None:
    return st.number_input(
        label, min_value=0.5, max_value=MOST_LOAD, value=load, step=2.5, format="%g", key=key
    )


def speed_form(person: Person, part: ExercisePart, athlete: str, day: date, unit: str) -> None:
    """Show an athlete's sets with bar speed: add one, strike one out."""
    exercise, key = part.planned.exercise, f"speed_{part.planned.exercise}_{doing.turn()}"
    with (
        st.form(f"{key}_form", border=False),
        st.container(horizontal=True, vertical_alignment="bottom"),
    ):
        load = _load_field(f"Load, {unit}", None, f"{key}_load")
        speed = st.number_input("Bar speed, m/s", 0.05, 6.0, None, 0.01, "%.2f", key=f"{key}_value")
        kind, bar = _speed_measured(part, key)
        asked = st.form_submit_button("Add the set")
    if asked:
        if load is None or speed is None:
            st.error("A set needs its load and its bar speed. What was typed is still there.")
        else:
            load_kg = to_kg(load, unit)
            doing.do(
                f"{part.name}: {load_text(load, unit)} at {numbers.decimal(speed, 2)}\u00a0m/s is"
                " saved.",
                lambda: add_lifted_set(
                    own_store(), athlete, exercise, day, load_kg, speed, person.person, kind, bar
                ),
            )
    if part.own_line is not None:
        target = st.number_input(
            "Target speed, m/s", 0.05, 6.0, None, 0.05, "%.2f", key=f"{key}_target"
        )
        if target is not None:
            st.write(bar_speed_words.target_sentence(part.own_line, target, unit))
    if part.sets.empty:
        elements.quiet("Sets of the day, and of days before, make the line: three at least.")
        return
    told = {
        int(row["set_id"]): f"{dates.day_of_year(row['lifted_on'])}:"
        f" {load_text(from_kg(row['load_kg'], unit), unit)}"
        f" at {numbers.decimal(row['bar_speed_m_s'], 2)}\u00a0m/s"
        for row in part.sets.iloc[::-1].to_dict("records")
    }
    elements.quiet(f"{numbers.counted(len(told), 'set')} saved.")
    with st.container(horizontal=True, vertical_alignment="bottom"):
        chosen = st.selectbox(
            "Saved sets", list(told), format_func=lambda one: told[one], key=f"{key}_stored"
        )
        if st.button("Strike it out", key=f"{key}_strike"):
            doing.do(
                f"{part.name}: {told[chosen]} counts no longer.",
                lambda: strike_out_set(own_store(), chosen, person.person),
            )


def _speed_measured(part: ExercisePart, key: str) -> tuple[str, str]:
    """Ask for the kind of speed and of bar, starting from those of the newest set."""
    last = None if part.sets.empty else part.sets.iloc[-1]
    kind = st.selectbox(
        "Speed measured",
        SPEED_KINDS,
        0 if last is None else SPEED_KINDS.index(last["speed_kind"]),
        help="As the device has it: the mean of the whole way up, the mean of its propulsive part"
        " (without the braking), or the peak. Lines of one are not read for another.",
        key=f"{key}_kind",
    )
    bar = st.selectbox(
        "Bar",
        BARS,
        BARS.index(last["bar"]) if last is not None and last["bar"] in BARS else 0,
        help="Guided: on rails.",
        key=f"{key}_led",
    )
    return kind, bar


def readiness_boxes(ticked: Mapping[str, bool], number: int) -> dict[str, bool]:
    """Show what must be true before the first working set, and return what is ticked."""
    return {
        what: st.checkbox(text, ticked[what], key=f"ready_{number}_{what}")
        for what, text in words.READINESS.items()
    }
