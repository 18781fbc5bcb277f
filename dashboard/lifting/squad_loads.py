"""A session for a whole squad: each athlete's own loads, from their own maximum."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import pandas as pd

from dashboard.core.numbers import Row
from dashboard.lifting.own_lines import maximum_of
from dashboard.lifting.parts import ExercisePart, SessionParts
from dashboard.lifting.plates import barbell_of, from_kg, to_kg
from db.file.store import Store
from db.plans.planned_exercises import (
    PlannedExercise,
    exercises_of_athletes,
    planned_exercises,
    save_planned_exercises,
)
from db.plans.session_plans import SessionPlan, list_session_plans, save_session_plan

Maxima = Mapping[str, float]
"""An athlete's one-repetition maxima by exercise, in the unit of the plan."""


@dataclass(frozen=True)
class OwnSession:
    """What an athlete lifts in a session of the squad.

    Attributes
    ----------
    athlete : str
    exercises : tuple of PlannedExercise
        Those of the session. A loaded one has the athlete's own load, or none if their maximum is
        not known yet.
    """

    athlete: str
    exercises: tuple[PlannedExercise, ...]


def loaded(session: SessionParts) -> list[ExercisePart]:
    """Return the exercises with a load that is a share of a known maximum."""
    return [part for part in session.parts if part.working and part.maximum]


def known_maxima(store: Store, unit: str) -> dict[str, dict[str, float]]:
    """Return every athlete's newest one-repetition maxima, by athlete and exercise.

    They are given in the athlete's own plans, or follow from a hard set in one.
    """
    found: dict[str, dict[str, float]] = {}
    for row in exercises_of_athletes(store).to_dict("records"):
        own = found.setdefault(row["athlete"], {})
        maximum = maximum_of(_planned(row), None)
        if maximum is not None and row["exercise"] not in own:
            in_unit = from_kg(to_kg(maximum.value, row["load_unit"]), unit)
            own[row["exercise"]] = round(in_unit, 1)
    return found


def own_session(session: SessionParts, athlete: str, maxima: Maxima) -> OwnSession:
    """Return a session with an athlete's own loads, as near as the plates can make them.

    Each load is the same share of the athlete's maximum as in the session.

    Raises
    ------
    BadInput, ModelError
        If bar and plates cannot make a load.
    """
    plan = session.plan
    barbell = barbell_of(plan.bar_load, plan.plates)
    exercises = []
    for part in session.parts:
        planned = part.planned
        if part.working is None or part.maximum is None:
            exercises.append(planned)
            continue
        own = maxima.get(planned.exercise)
        load = None if own is None else own * part.working.load / part.maximum.value
        if load is not None and planned.on_bar:
            load = barbell.nearest(load).load
        exercises.append(
            replace(
                planned,
                load=None if load is None else round(load, 2),
                one_repetition_max=own,
                tested_load=None,
                tested_repetitions=None,
            )
        )
    return OwnSession(athlete, tuple(exercises))


def save_sessions(store: Store, plan: SessionPlan, own: list[OwnSession], person: str) -> None:
    """Save a plan for each athlete, replacing one with the same name and day.

    Raises
    ------
    BadInput
        If something in one is not allowed.
    """
    listed = list_session_plans(store)
    days = pd.to_datetime(listed["day"]).dt.date
    same = listed[(listed["name"] == plan.name) & (days == plan.day)]
    numbers = dict(zip(same["athlete"], same["session_plan_id"], strict=True))
    for each in own:
        known = numbers.get(each.athlete)
        number = save_session_plan(
            store,
            replace(plan, athlete=each.athlete),
            person,
            None if known is None else int(known),
        )
        if planned_exercises(store, number) != list(each.exercises):
            save_planned_exercises(store, number, each.exercises, person)


def _planned(row: Row) -> PlannedExercise:
    def known(name: str) -> float | None:
        return None if pd.isna(row[name]) else float(row[name])

    repetitions = known("tested_repetitions")
    return PlannedExercise(
        row["exercise"],
        row["goal"],
        load=known("load"),
        one_repetition_max=known("one_repetition_max"),
        tested_load=known("tested_load"),
        tested_repetitions=None if repetitions is None else int(repetitions),
    )
