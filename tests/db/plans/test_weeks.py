"""What happened between two days: sessions, levels, plans and start values, rows set aside."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pandas as pd

from db.efforts.effort_changes import exclude_effort
from db.efforts.rows import efforts
from db.fits.findings import open_counts
from db.fits.kept_fits import keep_fit
from db.plans import weeks
from db.plans.lengths import PlanEntry, save_choice
from db.plans.outcomes import Outcome, record_outcomes, start_values
from db.plans.trials import TrialEntry, begin_trial, set_trial_session
from tests.db.fits.test_results import FACTS, curve_rows, response_rows

FIRST, LAST = date(2026, 3, 2), date(2026, 3, 8)
CSV = "athlete,started_at,measure,effort,value,volume_before,context"


def bring_week(bring):
    return bring(
        "A1,2026-03-01T09:00,jump_height,1,38,0,training",
        "A1,2026-03-02T09:00,jump_height,1,40,5,training",
        "A1,2026-03-02T09:00,jump_height,2,41,6,training",
        "A1,2026-03-02T18:00,jump_height,1,44,9,game",
        "A1,2026-03-09T09:00,jump_height,1,39,0,training",
        "A2,2026-03-08T23:30,jump_height,1,50,5,training",
        "A2,2026-03-08T23:30,jump_height,x,51,6,training",
        header=CSV,
    )


def test_a_week_holds_its_own_days_only(store, bring):
    bring_week(bring)
    assert weeks.days_known(store, "jump_height") == (date(2026, 3, 1), date(2026, 3, 9))
    assert weeks.days_known(store, "throw_speed") is None
    stored = efforts(store, "jump_height", "A1")
    exclude_effort(store, int(stored["effort_id"].iloc[2]), "slip", "coach")
    rows = weeks.sessions_between(store, "jump_height", FIRST, LAST)
    assert rows[["athlete", "sessions", "efforts"]].values.tolist() == [["A1", 2, 2], ["A2", 1, 1]]
    quiet = weeks.sessions_between(store, "jump_height", date(2026, 4, 1), date(2026, 4, 7))
    assert quiet["sessions"].tolist() == [0, 0] and quiet["last_session"].isna().all()


def test_plans_come_with_the_start_value_after_their_warm_up(store, bring):
    bring_week(bring)
    numbers = {
        (day, code): save_choice(
            store, PlanEntry(day, code, "jump_height", "best", 1, 9.0, 15.0, 9.0), "coach"
        )
        for day, code in ((FIRST, "A1"), (LAST, "A2"), (date(2026, 3, 9), "A1"))
    }
    peaks = efforts(store, "jump_height")[["session_id"]].drop_duplicates().assign(peak_value=45.0)
    keep_fit(store, "coach", "jump_height", FACTS, response_rows(), curve_rows(), peaks)
    rows = weeks.plans_between(store, "jump_height", FIRST, LAST)
    # A session at a game counts before an earlier one of that day, as in `start_values`.
    assert rows["start_value"].tolist() == [44.0, 50.0]
    assert rows["start_value"][0] == start_values(store, FIRST, "jump_height")["value"][0]
    assert rows["peak_value"].tolist() == [45.0, 45.0]
    record_outcomes(store, [Outcome(numbers[LAST, "A2"], 9.0, 49.0)], "coach")
    recorded = weeks.plans_between(store, "jump_height", LAST, LAST)
    assert recorded[["done_volume", "start_value"]].values.tolist() == [[9.0, 49.0]]
    levels = weeks.levels_between(store, "jump_height", FIRST, LAST)
    assert levels[["athlete", "efforts"]].values.tolist() == [["A1", 2], ["A1", 1], ["A2", 1]]
    moments = weeks.fit_moments(store, "jump_height")
    assert len(moments) == 1 and moments["fitted_at"].dt.tz is not None


def test_a_session_of_a_trial_does_not_count_as_a_plan(store, bring):
    bring_week(bring)
    drawn = PlanEntry(FIRST, "A1", "jump_height", "best", 1, None, 15.0, 15.0)
    order = [False, True, True, False]
    number = begin_trial(store, TrialEntry("A1", "jump_height", 15.0, 9.0, 1, order), "coach")
    set_trial_session(store, number, drawn, "coach")
    set_by_coach = PlanEntry(LAST, "A2", "jump_height", "best", 1, 9.0, 15.0, 9.0)
    save_choice(store, set_by_coach, "coach")
    assert weeks.plans_between(store, "jump_height", FIRST, LAST)["athlete"].tolist() == ["A2"]


def test_rows_are_counted_by_file_while_they_are_set_aside(store, bring):
    bring_week(bring)
    today = datetime.now(UTC).date()
    [row] = weeks.set_aside_between(store, today, today).to_dict("records")
    assert (row["file"], row["rows"]) == ("rows.csv", 1)
    assert row["day"] == pd.Timestamp(today)
    assert weeks.set_aside_between(store, FIRST, LAST).empty
    assert open_counts(store) == {}
