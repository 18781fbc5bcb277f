"""The demo squad's store: an invented club, imported and fitted like a real one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from importlib.resources import as_file, files
from pathlib import Path

from argon2 import PasswordHasher

from dashboard.app.demo_days import DemoDays
from dashboard.app.demo_games import MEASURE as GAME_MEASURE
from dashboard.app.demo_games import save_coming, save_played
from dashboard.lifting.parts import session_parts
from dashboard.lifting.plates import USUAL_PLATES
from dashboard.lifting.squad_loads import own_session, save_sessions
from db.errors import StoreError
from db.file.settings import get_setting, set_setting
from db.file.store import Store
from db.fits.results import concluded
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.people.accounts import Person, add_person
from db.people.first_run import mark_picture_read
from db.plans.lengths import PlanEntry
from db.plans.outcomes import Outcome, record_outcomes, save_done
from db.plans.planned_exercises import PlannedExercise, save_planned_exercises
from db.plans.session_plans import SessionPlan, save_session_plan
from db.plans.start_words import keep_start_word
from db.plans.trials import TrialEntry, begin_trial, set_trial_session
from db.roster.athletes import read_athletes_file, save_athletes
from db.roster.measures import get_measure, save_measure
from db.roster.statuses import set_status
from demo_team.club import ACCOUNTS, CLUB_NAME, MEASURES

BY = "demo"
QUICK_HASHER = PasswordHasher(time_cost=1, memory_cost=1024, parallelism=1)
"""Everybody knows these passwords, so a slow hash would protect nothing."""


class NotADemo(StoreError):
    """The file is somebody's own store."""

    title = "This is not the demo"


LIFTING = (
    PlannedExercise("countermovement_jump", "power", on_bar=False, working_sets=3, repetitions=3),
    PlannedExercise("back_squat", "strength", working_sets=4, repetitions=4, load=120.0,
                    one_repetition_max=145.0),
    PlannedExercise("bench_press", "strength", working_sets=3, repetitions=5, load=80.0,
                    one_repetition_max=97.5),
    PlannedExercise("bent_over_row", "growth", working_sets=3, repetitions=8, load=65.0,
                    one_repetition_max=90.0),
)  # fmt: skip
"""An invented session of the athlete who has a demo account."""
MAXIMA = {
    "H02": {"back_squat": 150.0, "bench_press": 110.0, "bent_over_row": 95.0},
    "H06": {"back_squat": 170.0, "bench_press": 120.0, "bent_over_row": 105.0},
    "H15": {"back_squat": 120.0, "bench_press": 82.5, "bent_over_row": 75.0},
}
"""Invented one-repetition maxima in kg of athletes who do the same session with their own loads."""


def demo_store(path: Path, say: Callable[[str], None], today: date | None = None) -> Store:
    """Return the demo's store at the path, made if it is not there; nothing is fitted yet.

    It is made under another name and renamed when it is complete, so that a run that is stopped
    never leaves a half-made store there. Its season ends in the week before the day it is made.

    Raises
    ------
    NotADemo
        If there is a store at the path that is not the demo's; it is left alone.
    """
    store = Store(path)
    if store.exists():
        if get_setting(store, "demo") != "yes":
            raise NotADemo(
                f"{store.path} is a store of your own, not the demo's, and was left as it is. "
                "Name another folder with --folder."
            )
        say(f"The demo's store is {store.path}. Delete it to begin afresh.")
        return store
    say(f"Making the demo's store at {store.path}: an invented squad and a season of efforts.")
    unfinished = Store(store.path.with_name(f"unfinished-{store.path.name}"))
    _delete(unfinished)
    _fill(unfinished, DemoDays(today or date.today()))
    unfinished.path.rename(store.path)
    return store


def measures_to_fit(store: Store) -> list[str]:
    """Return the demo's measures without a complete fit, the one on the first page first."""
    return [code for code in MEASURES if not concluded(store, code)]


def _delete(store: Store) -> None:
    """Delete what a run that was stopped left behind: invented data only."""
    for path in (store.path, Path(f"{store.path}.wal")):
        path.unlink(missing_ok=True)


def after_curves(store: Store, measure: str) -> None:
    """Save what the demo's coach plans once there are curves: the lengths of the next game."""
    if measure == GAME_MEASURE:
        save_coming(store, BY)


def _fill(store: Store, days: DemoDays) -> None:
    store.create()
    # Keep the file open, so that it is not opened again for each write.
    with store.reading(), as_file(files("demo_team")) as folder:
        save_athletes(store, read_athletes_file(folder / "athletes.csv"), BY)
        for code, facts in MEASURES.items():
            measure = get_measure(store, code)
            save_measure(store, replace(measure, standard_volume=facts.standard_volume), BY)
            name = f"{code}.csv"
            import_efforts(store, read_table(days.written(name), name), BY)
        for row in days.rows_of("statuses.csv").to_dict("records"):
            since = date.fromisoformat(row["since"])
            set_status(store, row["athlete"], row["status"], since, row["reason"], BY)
        done = _plans_of_the_past(days)
        save_done(store, done, BY)
        save_played(store, days, [plan for plan, _, _ in done], BY)
        _save_trial(store, days)
        _save_lifting(store, days)
        for account in ACCOUNTS:
            person = Person(
                account.name,
                account.display_name,
                account.role,
                account.athlete,
                sees_all=account.role == "coach",
            )
            add_person(store, person, QUICK_HASHER.hash(account.password), BY)
        set_setting(store, "club_name", CLUB_NAME, BY)
        keep_start_word(store, "throw-off", BY)
        set_setting(store, "demo", "yes", BY)
        mark_picture_read(store, BY)


def _plans_of_the_past(days: DemoDays) -> list[tuple[PlanEntry, float, float]]:
    return [
        (
            PlanEntry(
                day=date.fromisoformat(row["day"]),
                athlete=row["athlete"],
                measure=row["measure"],
                goal=row["goal"],
                efforts_to_follow=int(row["efforts_to_follow"]),
                advised_volume=float(row["advised_volume"]),
                standard_volume=float(row["standard_volume"]),
                chosen_volume=float(row["chosen_volume"]),
                reason=row["reason"],
            ),
            float(row["done_volume"]),
            float(row["outcome"]),
        )
        for row in days.rows_of("plans.csv").to_dict("records")
    ]


def _save_trial(store: Store, days: DemoDays) -> None:
    rows = days.rows_of("trial.csv").to_dict("records")
    athlete, measure = rows[0]["athlete"], rows[0]["measure"]
    lengths = {"no": float(rows[0]["first_volume"]), "yes": float(rows[0]["second_volume"])}
    order = [row["is_second"] == "yes" for row in rows]
    trial = TrialEntry(athlete, measure, lengths["no"], lengths["yes"], int(rows[0]["seed"]), order)
    number, outcomes = begin_trial(store, trial, BY), []
    for row in rows:
        plan = PlanEntry(
            day=date.fromisoformat(row["day"]),
            athlete=athlete,
            measure=measure,
            goal="best",
            efforts_to_follow=1,
            advised_volume=None,
            standard_volume=MEASURES[measure].standard_volume,
            chosen_volume=lengths[row["is_second"]],
        )
        plan_id = set_trial_session(store, number, plan, BY)
        outcomes.append(Outcome(plan_id, float(row["done_volume"]), float(row["outcome"])))
    record_outcomes(store, outcomes, BY)


def _save_lifting(store: Store, days: DemoDays) -> None:
    own = [account.athlete for account in ACCOUNTS if account.athlete]
    plan = SessionPlan(
        "Strength and power",
        days.lifting_day,
        own[0],
        GAME_MEASURE,
        plates=USUAL_PLATES["kg"],
        general_minutes=8.0,
    )
    number = save_session_plan(store, plan, BY)
    save_planned_exercises(store, number, LIFTING, BY)
    session = session_parts(store, number)
    others = [own_session(session, athlete, maxima) for athlete, maxima in MAXIMA.items()]
    save_sessions(store, plan, others, BY)
