"""A trial of two lengths with one athlete: set it up, run it, and show what it says."""

from __future__ import annotations

import secrets
from datetime import date
from math import isnan

import pandas as pd
import streamlit as st

from dashboard.core import cautions, columns, dates, numbers
from dashboard.core.estimates_figure import estimates_figure
from dashboard.fits.kept_curves import kept_draws
from dashboard.fits.lengths import responses
from dashboard.fits.usual_terms import latest_fit
from dashboard.results import trial_words
from dashboard.results.trials import MOST_BLOCKS, Trial, trial_table, trials_of
from dashboard.rules.club_limits import check_choice
from dashboard.screen import doing, elements, pictures
from dashboard.screen.reads import ask, own_store
from db.people.accounts import Person
from db.plans.lengths import PlanEntry, plans
from db.plans.outcomes import record_outcome, start_values
from db.plans.trials import TrialEntry, begin_trial, end_trial, set_trial_session, trial_sessions
from db.roster.measures import Measure
from modeling import CurveDraws
from modeling.trial.paired_trial import FEWEST_BLOCKS, draw_order
from modeling.trial.trial_outlook import ExpectedDifference, expected_difference

USUAL_BLOCKS = 6
SEED_BITS = 62


def show_trials(person: Person, measure: Measure, athlete: str) -> None:
    """Show an athlete's trials, the newest in full, or set one up."""
    curve = ask(kept_draws, measure.code, athlete).get(athlete)
    trials = trials_of(ask(trial_sessions, athlete, measure.code))
    if trials:
        _show_trial(person, measure, athlete, trials[0], curve)
    if not trials or not trials[0].running:
        with st.expander("Set up a trial", expanded=not trials):
            _set_up(person, measure, athlete, curve)
    if trials[1:]:
        with st.expander(f"{numbers.counted(len(trials) - 1, 'earlier trial')}"):
            for trial in trials[1:]:
                st.write(trial_words.progress_sentence(trial, measure.volume_unit))
                result = trial.result(measure.better)
                elements.bullets(trial_words.result_sentences(result, trial, measure.volume_unit))


def _set_up(person: Person, measure: Measure, athlete: str, curve: CurveDraws | None) -> None:
    unit, fit = measure.volume_unit, ask(latest_fit, measure.code)
    advised, standard = _lengths(measure, athlete)
    st.write(trial_words.WHAT_IT_IS)
    asked = ((f"One length, {unit}", standard), (f"Other length, {unit}", advised))
    key = f"{measure.code}_{athlete}_{doing.turn()}"
    with st.container(horizontal=True):
        one, other = (
            st.number_input(label, 0.0, 10_000.0, value, 1.0, "%g", f"trial_{place}_{key}")
            for place, (label, value) in enumerate(asked)
        )
        blocks = int(
            st.number_input(
                "Blocks of two sessions",
                FEWEST_BLOCKS,
                MOST_BLOCKS,
                USUAL_BLOCKS,
                key=f"trial_blocks_{key}",
            )
        )
    if one is None or other is None:
        st.info("Enter the two lengths to compare.")
        return
    lengths = (float(min(one, other)), float(max(one, other)))
    if one == other:
        st.info(
            "Both lengths are the same. Choose two that differ; the further apart, the sooner it"
            " is clear."
        )
        return
    noise = None if fit is None else float((fit.day_noise_pct**2 + fit.effort_noise_pct**2) ** 0.5)
    elements.bullets(
        trial_words.outlook_sentences(_expected(curve, lengths), lengths, noise, blocks, unit)
    )
    st.write(f"{cautions.CAUTIONS[1]} {cautions.CAUTION}")
    if st.button("Draw the order and begin", key=f"trial_begin_{key}", type="primary"):
        seed = secrets.randbits(SEED_BITS)
        order = tuple(bool(second) for second in draw_order(blocks, seed))
        entry = TrialEntry(athlete, measure.code, *lengths, seed, order)
        doing.do("The order is drawn and saved.", lambda: _begin(entry, standard, person))


def _show_trial(
    person: Person, measure: Measure, athlete: str, trial: Trial, curve: CurveDraws | None
) -> None:
    unit = measure.volume_unit
    result, lengths = trial.result(measure.better), (trial.first_volume, trial.second_volume)
    expected = _expected(curve, lengths)
    st.markdown(f"**{trial_words.headline(result, trial, unit)}**")
    st.write(trial_words.progress_sentence(trial, unit))
    if trial.running:
        _record(person, measure, athlete, trial)
        _set_next(person, measure, athlete, trial)
    sentences = trial_words.result_sentences(result, trial, unit)
    model = trial_words.model_sentence(expected, lengths, unit)
    rows = trial_words.result_rows(result, expected)
    if not rows.empty:
        pictures.show(
            pictures.draw(
                estimates_figure,
                rows,
                f"{numbers.number(lengths[1])} against {numbers.number(lengths[0])} {unit}, %",
                elements.screen_palette(),
            ),
            key=f"trial_{trial.trial_id}",
            alt=" ".join([*sentences, model]),
        )
    elements.bullets([*sentences, model, trial_words.apart_sentence(result, expected)])
    st.write(f"{cautions.CAUTIONS[1]} {cautions.CAUTION}")
    with st.expander("Sessions of this trial" + (", or end it" if trial.running else "")):
        st.dataframe(
            trial_table(trial, measure),
            hide_index=True,
            placeholder="",
            column_config={"day": columns.days()},
            alt=f"The {len(trial.sessions)} sessions of the trial in their drawn order",
        )
        if trial.running and st.button("End this trial now", key="trial_end"):
            doing.do(
                "The trial is ended; what it has found stays.",
                lambda: end_trial(own_store(), trial.trial_id, person.person),
            )


def _record(person: Person, measure: Measure, athlete: str, trial: Trial) -> None:
    """Ask what was done in a session that is set, and for its start value."""
    waiting = trial.sessions[trial.sessions["plan_id"].notna()]
    waiting = waiting[pd.to_datetime(waiting["day"]).dt.date <= date.today()]
    if waiting.empty:
        return
    by_plan = {int(row["plan_id"]): row for row in waiting.to_dict("records")}
    still_open = [plan for plan, row in by_plan.items() if pd.isna(row["outcome"])]
    first = list(by_plan).index(still_open[0]) if still_open else len(by_plan) - 1
    with st.container(horizontal=True, vertical_alignment="bottom"):
        plan = st.selectbox(
            "What came of session",
            list(by_plan),
            index=first,
            format_func=lambda plan: (
                f"{by_plan[plan]['place']}, {dates.day_of_year(by_plan[plan]['day'])}:"
                f" {numbers.volume(by_plan[plan]['volume'], measure.volume_unit)}"
            ),
            key=f"trial_plan_{trial.trial_id}_{doing.turn()}",
        )
        row = by_plan[plan]
        measured = ask(start_values, pd.Timestamp(row["day"]).date(), measure.code)
        found = measured.loc[measured["athlete"] == athlete, "value"].tolist()
        known = [value for value in (row["outcome"], *found) if not pd.isna(value)]
        key = f"{plan}_{doing.turn()}"
        done = st.number_input(
            f"Did, {measure.volume_unit}",
            0.0,
            10_000.0,
            numbers.first_known(row["done_volume"], row["volume"]),
            1.0,
            "%g",
            f"trial_done_{key}",
        )
        value = st.number_input(
            f"Start value, {measure.unit}",
            0.0,
            None,
            float(known[0]) if known else None,
            format="%g",
            key=f"trial_value_{key}",
            placeholder="the first effort after it",
        )
        pressed = st.button("Record", key="trial_record", type="primary")
    if pressed and not value:
        st.error("A block needs the start value of both its sessions. Enter the first effort.")
    elif pressed:
        doing.do(
            f"Session {row['place']} is recorded.",
            lambda: record_outcome(own_store(), plan, float(done), value, person.person),
        )


def _set_next(person: Person, measure: Measure, athlete: str, trial: Trial) -> None:
    """Offer to set the next session for a day, as a plan like any other."""
    st.write(trial_words.next_sentence(trial, measure.volume_unit))
    row = trial.next_to_set()
    if row is None:
        return
    with st.container(horizontal=True, vertical_alignment="bottom"):
        day = st.date_input("For the day", "today", key=f"trial_day_{doing.turn()}")
        pressed = st.button("Set it as the plan of that day", key="trial_set")
    there = elements.row_of(ask(plans, day, measure.code, second_game=False), athlete)
    if there is not None:
        elements.quiet(
            f"{numbers.volume(there['chosen_volume'], measure.volume_unit)} is set for that day"
            " already; this would take its place."
        )
    if pressed:
        advised, standard = _lengths(measure, athlete)
        plan = PlanEntry(
            day,
            athlete,
            measure.code,
            "best",
            1,
            advised,
            standard,
            float(row["volume"]),
            f"Trial, session {int(row['place'])} of {len(trial.sessions)}",
        )
        doing.do(
            f"Set for {dates.day(day)}.",
            lambda: _set(trial, plan, person),
        )


def _begin(entry: TrialEntry, standard: float | None, person: Person) -> None:
    longest = max(entry.first_volume, entry.second_volume)
    asked = PlanEntry(
        date.today(), entry.athlete, entry.measure, "best", 1, None, standard, longest
    )
    check_choice(own_store(), asked)
    begin_trial(own_store(), entry, person.person)


def _set(trial: Trial, plan: PlanEntry, person: Person) -> None:
    check_choice(own_store(), plan)
    set_trial_session(own_store(), trial.trial_id, plan, person.person)


def _lengths(measure: Measure, athlete: str) -> tuple[float | None, float | None]:
    """Return the advised length and the standard, as they are now; None if there is none."""
    fit = ask(latest_fit, measure.code)
    row = elements.row_of(ask(responses, measure.code, athlete), athlete) if fit else None
    advised = None if row is None or isnan(row["length"]) else float(row["length"])
    return advised, measure.standard_volume if fit is None else fit.standard_volume


def _expected(curve: CurveDraws | None, lengths: tuple[float, float]) -> ExpectedDifference | None:
    return None if curve is None else expected_difference(curve, *lengths)
