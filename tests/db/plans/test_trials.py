from __future__ import annotations

from dataclasses import replace
from datetime import date

import pandas as pd
import pytest

from db.errors import BadInput
from db.file.checks import check
from db.file.store import Store
from db.plans.outcomes import record_outcome
from db.plans.trials import TrialEntry, begin_trial, end_trial, set_trial_session, trial_sessions
from db.roster.athletes import save_athletes
from tests.db.plans.test_plans import PLAN

TRIAL = TrialEntry(PLAN.athlete, PLAN.measure, 8.0, 20.0, 5, (True, False, False, True))


@pytest.fixture
def number(store: Store) -> int:
    save_athletes(store, pd.DataFrame({"athlete": [PLAN.athlete]}), "coach")
    return begin_trial(store, TRIAL, "coach")


def test_a_trial_is_set_session_by_session_in_its_drawn_order(store: Store, number: int) -> None:
    for day, volume in enumerate((20.0, 8.0), start=1):
        plan = replace(PLAN, day=date(2026, 3, day), chosen_volume=volume)
        chosen = set_trial_session(store, number, plan, "coach")
        record_outcome(store, chosen, volume, 40.0 + day, "coach")
    found = trial_sessions(store, PLAN.athlete, PLAN.measure)
    assert found["block"].tolist() == [1, 1, 2, 2]
    assert found["volume"].tolist() == [20.0, 8.0, 8.0, 20.0]
    assert found["outcome"].tolist()[:2] == [41.0, 42.0] and found["outcome"].isna().sum() == 2
    assert found["blocks"].eq(2).all()
    assert not check(store)


def test_only_the_length_that_was_drawn_is_set(store: Store, number: int) -> None:
    with pytest.raises(BadInput, match="next session of this trial is 20 for"):
        set_trial_session(store, number, replace(PLAN, chosen_volume=8.0), "coach")


def test_one_trial_of_a_measure_at_a_time(store: Store, number: int) -> None:
    with pytest.raises(BadInput, match="in a trial of this measure already"):
        begin_trial(store, TRIAL, "coach")
    end_trial(store, number, "coach")
    assert begin_trial(store, TRIAL, "coach") == number + 1
    with pytest.raises(BadInput, match="ended already"):
        end_trial(store, number, "coach")
    with pytest.raises(BadInput, match="no session left"):
        set_trial_session(store, number, replace(PLAN, chosen_volume=20.0), "coach")


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"second_volume": 8.0}, "Both lengths are the same"),
        ({"first_volume": -1.0}, "must be 0 to"),
        ({"second_comes": (True, False)}, "2 to 50 blocks"),
        ({"athlete": "A77"}, "no athlete 'A77'"),
        ({"measure": "jumps"}, "no measure 'jumps'"),
    ],
)
def test_an_impossible_trial_is_refused(
    store: Store, number: int, change: dict[str, object], sentence: str
) -> None:
    with pytest.raises(BadInput, match=sentence):
        begin_trial(store, replace(TRIAL, **change), "coach")
