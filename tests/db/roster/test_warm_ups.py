"""Warm-ups that look mistyped are found by comparing them with the athlete's others."""

from __future__ import annotations

from datetime import date, datetime

import pandas as pd
import pytest

from db.efforts.effort_changes import exclude_effort
from db.efforts.rows import efforts
from db.efforts.typed_sessions import EffortEntry, SessionEntry, add_session
from db.file.store import Store
from db.plans.lengths import PlanEntry, save_choice
from db.plans.outcomes import record_outcome
from db.roster.warm_ups import far_warm_ups


def session(store: Store, day: int, volume: float, kind: str = "routine") -> None:
    values = (EffortEntry(1, 40.0, volume), EffortEntry(2, 40.0, volume + 1))
    at = datetime(2025, 3, day, 9)
    add_session(store, SessionEntry("A1", "jump_height", at, values, kind=kind), "carl")


@pytest.mark.parametrize(
    ("volumes", "found"),
    [
        ([14, 15, 150], [(151, 16)]),
        ([14, 29], []),
        # Two such warm-ups are no slip, and a single one has nothing to be compared with.
        ([14, 150, 140], []),
        ([150], []),
    ],
)
def test_one_session_far_longer_than_all_others_is_found(
    store: Store, volumes: list[float], found: list[tuple[float, float]]
) -> None:
    for day, volume in enumerate(volumes, start=1):
        session(store, day, volume)
    rows = far_warm_ups(store, "jump_height")
    assert list(zip(rows["volume"], rows["most"], strict=True)) == found
    assert far_warm_ups(store, "sprint_10m").empty and far_warm_ups(store, batch_id=1).empty


def test_the_done_volume_of_a_plan_is_a_warm_up_too(store: Store) -> None:
    session(store, 1, 14)
    plan = PlanEntry(date(2025, 3, 2), "A1", "jump_height", "best", 1, 15.0, 15.0, 15.0)
    record_outcome(store, save_choice(store, plan, "carl"), 150.0, None, "carl")
    (found,) = far_warm_ups(store).to_dict("records")
    assert (found["volume"], found["most"], found["started_at"].day) == (150, 15, 2)
    assert pd.isna(found["session_id"])


def test_fade_tests_and_excluded_efforts_do_not_count_as_warm_ups(store: Store) -> None:
    session(store, 1, 14)
    session(store, 2, 150, kind="fade")
    assert far_warm_ups(store).empty
    session(store, 3, 150)
    assert far_warm_ups(store)["name"].tolist() == ["A1"]
    for effort_id in efforts(store, "jump_height").query("started_at.dt.day == 3")["effort_id"]:
        exclude_effort(store, int(effort_id), "typed wrongly", "carl")
    assert far_warm_ups(store).empty
