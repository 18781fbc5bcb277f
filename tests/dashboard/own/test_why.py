"""A length that is not the usual one always comes with its reason."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from dashboard.game.advice import WAVE_REASON
from dashboard.game.lines import Line
from dashboard.own.why import game_reason, reason_given, set_reason
from db.plans.games import BenchRow, Player
from db.plans.lengths import PlanEntry

DAY = date(2026, 12, 5)
START = datetime(2026, 12, 5, 18)
PLANNED = datetime(2026, 12, 1, 12, tzinfo=UTC)
PLAN = PlanEntry(DAY, "A1", "jump_height", "best", 1, 20.0, 15.0, 20.0)
PLAYER = Player(PLAN, "starts", 1, 1, False, 12.0)
AGAIN = BenchRow(30.0, 5.0, (1.0, 0.5, 2.0))


def reason(plan: dict[str, Any], fitted: datetime = PLANNED, **player: Any) -> tuple[str, str]:
    own = replace(PLAYER, plan=replace(PLAN, **plan), **player)
    return game_reason(Line("Long One", own, START, START, START, START), 25.0, PLANNED, fitted)


@pytest.mark.parametrize(
    ("plan", "player", "told"),
    [
        ({"chosen_volume": 9.0}, {"own_length": True}, "your coach set 9"),
        ({}, {"own_length": True}, "your coach set 20"),
        ({"chosen_volume": 15.0, "reason": f"{WAVE_REASON}2"}, {}, "you do 15 together with your"),
        ({"chosen_volume": 12.0}, {}, "it is 12: that is the most you may do on its day"),
        ({}, {"earlier_volume": 8.0}, "it is 20: the 8 before your earlier game count"),
        ({}, {"role": "bench", "bench": (AGAIN,)}, "it is 20: you keep a part of the day's most"),
        ({}, {"role": "bench", "bench": (replace(AGAIN, volume=4.0),)}, "opening work"),
        ({}, {"role": "bench", "bench": (replace(AGAIN, volume=0.0),)}, "opening work"),
        ({}, {"top_up": 4.0}, "it is 20: 4 more come shortly before the start"),
        ({}, {}, "its air, its wait and its opening work are not those of a usual day"),
        ({"advised_volume": None}, {}, "your coach set 20"),
    ],
)
def test_a_games_length_comes_with_its_reason(
    plan: dict[str, Any], player: dict[str, Any], told: str
) -> None:
    assert told in ": ".join(reason(plan, **player))


def test_a_curve_that_is_newer_than_the_plan_is_a_reason() -> None:
    assert "planned before your newest curve" in reason({}, PLANNED + timedelta(hours=1))[1]


@pytest.mark.parametrize(
    ("chosen", "advised", "in_trial", "told"),
    [
        (20.0, 20.0, False, ""),
        (9.0, 20.0, False, "Your usual length is 20; your coach set this one."),
        (25.0, 25.0, False, "Your usual length is 20; this one is for one best effort"),
        (7.0, None, True, "Your usual length is 20; this one was drawn for your trial."),
    ],
)
def test_a_days_length_comes_with_its_reason(
    chosen: float, advised: float | None, in_trial: bool, told: str
) -> None:
    row = {"chosen_volume": chosen, "advised_volume": advised, "efforts_to_follow": 1}
    found = set_reason(row, 20.0, in_trial)
    assert found.startswith(told) and bool(found) is bool(told)


def test_only_the_athlete_reads_the_coachs_words() -> None:
    assert reason_given("a sore knee.", with_reason=True) == "The reason given: a sore knee."
    assert reason_given("a sore knee", with_reason=False) == ""
    for nothing in ("", f"{WAVE_REASON}2"):
        assert reason_given(nothing, with_reason=True) == ""
