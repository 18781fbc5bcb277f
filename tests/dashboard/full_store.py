"""A store that holds everything there can be about an athlete."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from pathlib import Path

import pandas as pd

from dashboard.game.advice import usual_game
from db.efforts.effort_changes import correct_effort
from db.efforts.new_rounds import Method, NewLiveTest, NewTest, StopRule, begin_live_test
from db.efforts.rows import efforts
from db.file.store import Store
from db.fits.finding_decisions import accept_finding
from db.fits.findings import open_findings
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.people.accounts import Person, add_person
from db.people.private_links import keep_link
from db.plans.games import BenchRow, Game, GameWave, Player, save_game
from db.plans.lengths import PlanEntry, save_choice
from db.plans.lifted_sets import add_lifted_set
from db.plans.planned_exercises import PlannedExercise, save_planned_exercises
from db.plans.readiness import Readiness, save_readiness
from db.plans.session_plans import SessionPlan, save_session_plan
from db.plans.trials import TrialEntry, begin_trial
from db.roster.athletes import save_athletes
from db.roster.statuses import set_status
from tests.dashboard.conftest import HASH, fill, new_store

SQUADS = {"A1": "First", "A2": "First", "A3": "Youth", "A4": "Youth", "A5": "Youth"}
DAY, YOUTH_DAY, EMPTY_DAY = date(2026, 3, 14), date(2026, 3, 15), date(2026, 3, 16)
GAME_DAY = date(2026, 3, 18)
HEADER = "athlete,started_at,measure,effort,value,volume_before"


def game_of(codes: tuple[str, ...]) -> Game:
    """A game of one wave: everybody is on the bench, each with a reason from the coach."""
    starts = datetime(2026, 3, 18, 19, 30)
    bench = (BenchRow(15.0, 2.0, (1.0, 0.5, 2.0)),)
    return replace(
        usual_game("jump_height", GAME_DAY, (starts,), {}),
        waves=(GameWave(1, 1, 12.0, 5.0, (0.3, 0.1, 0.6)),),
        players=tuple(
            Player(
                PlanEntry(
                    GAME_DAY, code, "jump_height", "best", 1, 9.0, 15.0, 8.0, f"why of {code}"
                ),
                *("bench", 1, 1, True, 6.0, (0.2, 0.1, 0.4), bench),
            )
            for code in codes
        ),
    )


def full_store(path: Path) -> Store:
    """Make a filled store with two squads and everything there can be about an athlete."""
    store = new_store(path)
    with store.kept_open():
        _keep_everything(store)
    return store


def _keep_everything(store: Store) -> None:
    fill(store)
    squads = pd.DataFrame({"athlete": list(SQUADS), "squad": list(SQUADS.values())})
    save_athletes(store, squads, "test")
    add_person(store, Person("yara", "Yara Y", "coach", squads=("First",)), HASH, by="test")
    for day, code in ((DAY, "A1"), (DAY, "A3"), (YOUTH_DAY, "A3")):
        plan = PlanEntry(day, code, "jump_height", "best", 1, 40.0, 15.0, 35.0, f"reason of {code}")
        save_choice(store, plan, "test")
    save_game(store, game_of(("A1", "A2", "A3")), "test")
    for code in ("A1", "A3"):
        first = int(efforts(store, "jump_height", code)["effort_id"].iloc[0])
        correct_effort(store, first, 41.5, f"slip of {code}", "test")
    begin_live_test(
        store,
        NewLiveTest(
            "sprint_10m",
            datetime(2026, 3, 14, 12),
            tuple(NewTest(code, {"pain": False, "note": f"note of {code}"}) for code in SQUADS),
            Method("value", "gates"),
            StopRule(0.9, 3),
        ),
        "test",
    )
    for kind in ("jump", "unit"):
        found = open_findings(store, "jump_height").set_index("kind").loc[kind]
        accept_finding(store, int(found["finding_id"]), f"right of {found['athlete']}", "test")
    for code in ("A1", "A3"):
        session = SessionPlan(
            f"session of {code}", DAY, code, "jump_height", note=f"note of {code}"
        )
        number = save_session_plan(store, session, "test")
        lift = PlannedExercise("back_squat", "strength", load=100.0)
        save_planned_exercises(store, number, [lift], "test")
        add_lifted_set(store, code, "back_squat", DAY, 80.0, 0.7, "test")
        save_readiness(store, number, Readiness(), "test")
        begin_trial(store, TrialEntry(code, "jump_height", 8.0, 20.0, 5, (True, False) * 2), "test")
        until = datetime.now(UTC) + timedelta(days=7)
        keep_link(store, code, sha256(code.encode()).hexdigest(), until, "carl")
    for code in SQUADS:
        set_status(store, code, "modified", date.today(), f"status of {code}", "test")
    wrong = f"{HEADER}\nA3,2026-03-14T10:00,jump_height,1,999,1"
    import_efforts(store, read_table(wrong.encode(), "wrong.csv"), "test")
