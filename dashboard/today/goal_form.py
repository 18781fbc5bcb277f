"""What a warm-up is for: asked once for a training or a game."""

from __future__ import annotations

import streamlit as st

from dashboard.core import terms
from dashboard.rules.game_work import ONE_BEST, GameWork, game_work
from dashboard.rules.goals import GOALS
from dashboard.rules.work_limits import LONGEST_RECOVERY_SECONDS, MOST_EFFORTS
from dashboard.screen.reads import ask
from db.plans.games import Game
from db.roster.measures import Measure

TRAINING_EFFORTS = 10


def ask_goal(measure: Measure, occasion: str, kept: Game | None) -> tuple[str, GameWork]:
    """Ask for the goal and the work to follow.

    By default a game's goal is the best average over its opening work, with recovery between two
    efforts, and a training's goal is one best effort.

    Parameters
    ----------
    measure
        The measure that leads.
    occasion
        `game` or `training`.
    kept
        The saved game, if there is one.
    """
    usual = ask(game_work, measure) if occasion == "game" else GameWork(TRAINING_EFFORTS, 0.0)
    before = "sustained" if occasion == "game" and usual.efforts > 1 else "best"
    if kept is not None:
        before = kept.goal
        if kept.goal != "best":
            usual = GameWork(kept.efforts_to_follow, kept.course.recovery_seconds)
    key = f"{occasion}_{measure.code}"
    goal = st.selectbox(
        "Goal",
        list(GOALS),
        list(GOALS).index(before),
        format_func=lambda code: GOALS[code],
        key="plan_goal" if occasion == "training" else f"plan_goal_{key}_{before}",
        help=terms.meaning("goal"),
        persist_state="session",
    )
    if goal == "best":
        return goal, ONE_BEST
    efforts = st.number_input(
        "Efforts to follow",
        1,
        MOST_EFFORTS,
        usual.efforts,
        key="plan_efforts" if occasion == "training" else f"plan_efforts_{key}",
        persist_state="session",
    )
    if occasion == "training":
        return goal, GameWork(int(efforts), 0.0)
    seconds = st.number_input(
        "Recovery between two, s",
        0.0,
        LONGEST_RECOVERY_SECONDS,
        usual.recovery_seconds,
        10.0,
        "%g",
        key=f"plan_recovery_{key}",
        persist_state="session",
        help="The usual of a game is set on the page Squad (common practice, no source).",
    )
    return goal, GameWork(int(efforts), float(seconds))
