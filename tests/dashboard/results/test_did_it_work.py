"""Plans, what was done and how it went, trials, and the private link: words, frames, pages."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from dashboard.core.estimates_figure import estimates_figure
from dashboard.core.palette import LIGHT
from dashboard.fits.lengths import responses
from dashboard.own import words
from dashboard.results import outcome_words, trial_words
from dashboard.results.plan_outcomes import FOLLOWED, NEAR_DAYS, outcomes, plan_outcomes
from dashboard.results.trials import Trial, trials_of
from db.file.store import Store
from db.fits.results import session_peaks
from db.people.accounts import Person, add_person
from db.people.private_links import private_links
from db.people.sight import seen_by
from db.plans.lengths import PlanEntry, save_choice
from db.plans.outcomes import record_outcome
from db.plans.trials import TrialEntry, begin_trial, running_trials, trial_sessions
from db.roster.athletes import save_athletes
from db.roster.measures import get_measure
from modeling import Estimate
from modeling.trial.trial_outlook import ExpectedDifference
from tests.dashboard.conftest import HASH, SignIn, told


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def plan_rows(*plans: tuple[str, str, float, float]) -> pd.DataFrame:
    """Rows like `plan_outcomes`: athlete, how it was done, how far off, start against level."""
    rows = pd.DataFrame(plans, columns=["athlete", "done", "moved", "against_level_pct"])
    return rows.assign(
        followed=rows["done"].map(FOLLOWED),
        range=np.where(rows["done"] == "as planned", "inside", "outside"),
        expected_pct=np.where(rows["done"] == "as planned", -0.2, -3.2),
        advised_volume=20.0,
        chosen_volume=[20.0, 15.0, *[20.0] * (len(rows) - 2)],
    )


ROWS = plan_rows(
    ("A1", "as planned", 0.0, -1.0),
    ("A1", "changed", -4.0, -3.0),
    ("A2", "as planned", 0.0, 0.0),
    ("A2", "skipped", -20.0, -6.0),
    ("A3", "as planned", 0.0, np.nan),
    ("A3", "not recorded", np.nan, -1.0),
)


def test_plans_are_counted_and_compared_within_athletes() -> None:
    assert outcome_words.headline(ROWS) == "3 of 5 recorded plans done as planned"
    assert plain(outcome_words.shares_sentence(ROWS, "efforts")) == (
        "Of 6 plans up to today: 3 as planned (50 %), 1 changed (17 %, by \u22124 efforts, median"
        " \u22124), 1 skipped (17 %), 1 not recorded yet (17 %)."
    )
    assert outcome_words.set_as_advised(ROWS, "efforts") == (
        "Set at the length that was advised then: 5 of 6; the others differ by 5 efforts, median."
    )
    found = outcomes(ROWS)
    assert found.means["followed"].mean.median == pytest.approx(-0.5)
    assert found.means["not followed"].mean.median == pytest.approx(-4.5)
    assert found.within is not None and found.within.mean.median == pytest.approx(4.0)
    said = plain(" ".join(outcome_words.outcome_sentences(found)))
    assert "After plans that were followed, starts were \u22120.5 % (" in said
    assert "2 starts of 2 athletes" in said
    assert "In the 2 athletes with both, starts after followed plans were 4.0 % (" in said
    assert "the curves expect 3.0 %" in said
    within = found.within.mean
    assert f"only {(within.high - within.low) / 2:.1f} % or more would stand out" in said
    assert "1 recorded plan could not be compared" in said
    figure = estimates_figure(outcome_words.mean_rows(found), "%", LIGHT)
    assert list(figure.data[0].x) == [pytest.approx(-0.5), pytest.approx(-4.5)]


def test_starts_inside_the_good_range_are_compared_with_those_outside() -> None:
    found = outcomes(ROWS, "range")
    assert outcome_words.range_answer(found).endswith("no clear difference")
    said = plain(" ".join(outcome_words.outcome_sentences(found)))
    assert "Inside the own good range, starts were \u22120.5 % (" in said
    assert "starts inside the good range were 4.0 % (" in said
    steady = plan_rows(*[(f"A{at}", "as planned", 0.0, 0.1 * at) for at in range(6)])
    worse = plan_rows(*[(f"A{at}", "changed", 5.0, 0.1 * at - 3.0) for at in range(6)])
    clear = outcomes(pd.concat([steady, worse]).reset_index(drop=True), "range")
    assert plain(outcome_words.range_answer(clear)) == (
        "Starts were 3.0 % better inside the good range"
    )
    alone = outcomes(steady, "range")
    assert outcome_words.range_answer(alone).endswith("Too few to tell")


def test_a_start_is_never_compared_with_itself(demo_once: Path) -> None:
    store = Store(demo_once)
    measure = get_measure(store, "jump_height")
    rows = plan_outcomes(store, measure, date.today()).dropna(subset=["level", "start_value"])
    peaks = session_peaks(store, measure.code)
    for row in rows.to_dict("records")[:10]:
        own = peaks[peaks["athlete"] == row["athlete"]]
        apart = (own["started_at"].dt.normalize() - row["day"]).dt.days.abs()
        near, others = own[apart.between(1, NEAR_DAYS)], own[apart > 0]
        peaks_of = (near if len(near) else others)["peak_value"]
        assert len(peaks_of) < len(own)
        assert row["level"] == pytest.approx(np.exp(np.log(peaks_of).mean()))
    good = responses(store, measure.code).set_index("athlete")
    inside = rows[rows["range"] == "inside"]
    ends = good.loc[inside["athlete"], ["good_from", "good_to"]].to_numpy()
    done = inside["done_volume"].to_numpy()
    assert len(inside) > 10 and ((ends[:, 0] <= done) & (done <= ends[:, 1])).all()


def test_with_nothing_recorded_there_are_words_and_no_picture() -> None:
    rows = ROWS.assign(done="not recorded", followed=None, moved=np.nan)
    found = outcomes(rows)
    assert outcome_words.headline(rows) == ("6 plans, and what was done of none is recorded yet")
    assert not found.means and found.within is None
    assert outcome_words.outcome_sentences(found) == [outcome_words.NOT_RECORDED]


def trial(firsts: list[float], seconds: list[float], done: float = 8.0) -> Trial:
    values = [value for pair in zip(firsts, seconds, strict=True) for value in pair]
    sessions = pd.DataFrame(
        {
            "trial_id": 3,
            "first_volume": 8.0,
            "second_volume": 20.0,
            "ended_at": pd.NaT,
            "place": range(1, len(values) + 1),
            "block": np.repeat(np.arange(1, len(firsts) + 1), 2),
            "is_second": [False, True] * len(firsts),
            "volume": [8.0, 20.0] * len(firsts),
            "plan_id": range(1, len(values) + 1),
            "done_volume": [done, 20.0] * len(firsts),
            "outcome": values,
        }
    )
    [found] = trials_of(sessions)
    return found


def test_few_blocks_are_called_few_however_clear_they_look() -> None:
    one = trial([40.0, 40.5, 41.0, np.nan], [42.0, 42.4, 43.2, np.nan], done=9.0)
    result = one.result("higher")
    assert one.running and result is not None and result.blocks == 3
    assert trial_words.headline(result, one, "efforts") == (
        "Points to 20 efforts so far, from too few blocks to be sure"
    )
    said = plain(" ".join(trial_words.result_sentences(result, one, "efforts")))
    assert "from 3 complete blocks" in said
    assert "a difference as large in 2 of 8 orders" in said
    assert "can never be below 2 of 8" in said
    assert "3 sessions went otherwise than drawn" in said
    times = one.result("lower")
    assert times is not None and times.difference_pct.median < 0


def test_a_clear_trial_and_a_model_that_disagrees() -> None:
    one = trial([40.0, 40.5, 41.0, 40.2, 39.8, 41.5], [42.0, 42.4, 43.2, 42.0, 41.9, 43.4])
    result = one.result("higher")
    assert not one.running
    assert trial_words.headline(result, one, "efforts") == "Better after 20 efforts"
    assert "are few" not in " ".join(trial_words.result_sentences(result, one, "efforts"))
    against = ExpectedDifference(Estimate(-3.0, -5.0, -1.0), 0.01, 9)
    assert "disagree" in trial_words.apart_sentence(result, against)
    assert not trial_words.apart_sentence(
        result, ExpectedDifference(Estimate(4.0, 1.0, 7.0), 0.98, 9)
    )
    assert trial_words.result_rows(result, against)["name"].tolist() == [
        "this trial: 6 blocks",
        "the model: 9 sessions",
    ]


def test_without_two_complete_blocks_nothing_is_said() -> None:
    one = trial([40.0, 40.5], [41.0, np.nan])
    assert one.result("higher") is None
    assert trial_words.headline(None, one, "efforts") == "Nothing can be said yet"
    assert "Two blocks must be complete" in trial_words.result_sentences(None, one, "efforts")[0]


def test_a_trial_too_small_for_its_question_says_so_before_it_begins() -> None:
    expected = ExpectedDifference(Estimate(1.5, -0.2, 3.0), 0.9, 5)
    said = plain(" ".join(trial_words.outlook_sentences(expected, (8.0, 20.0), 3.0, 4, "efforts")))
    assert "after 20 efforts against 8, 1.5 % (\u22120.2 to 3.0)" in said
    assert "\u00b15.0 % (90 % interval)" in said and "24 blocks would be about enough" in said
    tiny = ExpectedDifference(Estimate(0.1, -0.2, 0.3), 0.6, 5)
    said = " ".join(trial_words.outlook_sentences(tiny, (8.0, 9.0), 3.0, 4, "efforts"))
    assert "Not even 50 blocks" in said


def test_an_athlete_is_told_who_sees_them(shown_store: Store) -> None:
    staff = seen_by(shown_store, "A1")
    assert [person.person for person in staff] == ["carl", "dora"]
    said = " ".join(words.seen_by_sentences(staff))
    assert "1 director may see all of it: Dora Director." in said and "Carl Coach" in said
    until = datetime(2026, 3, 14, tzinfo=UTC)
    links = [{"person": "carl", "expires_at": until}, {"person": "gone", "expires_at": until}]
    assert "2 private links open" in words.links_sentence(links, staff)
    assert "made by somebody of the club" in words.links_sentence(links, staff)
    assert "Nobody has opened a page about you" in words.views_sentence([], staff)
    day = date(2026, 3, 2)
    views = [{"person": name, "days": 2, "last_day": day} for name in ("carl", "gone")]
    said = words.views_sentence(views, staff)
    assert "Carl Coach on 2 days, last 2 Mar 2026; somebody who is no longer here" in said


def test_an_athlete_sees_who_opened_their_page(filled_store: Store, sign_in: SignIn) -> None:
    sign_in(filled_store, "carl", "athlete").selectbox(key="athlete").set_value("A1").run()
    kept = told(sign_in(filled_store, "long.one", "my_warm_up"))
    assert "Carl Coach on 1 day, last" in kept and "Dora Director on" not in kept


def test_a_coach_of_another_squad_is_not_listed(filled_store: Store) -> None:
    squads = pd.DataFrame({"athlete": ["A1", "A2"], "squad": ["First", "Youth"]})
    save_athletes(filled_store, squads, "test")
    add_person(filled_store, Person("yara", "Yara", "coach", squads=("Youth",)), HASH, by="test")
    assert [person.person for person in seen_by(filled_store, "A1")] == ["carl", "dora"]
    assert "yara" in [person.person for person in seen_by(filled_store, "A2")]


def test_what_the_newest_curves_changed() -> None:
    before = {
        "fitted_at": date(2026, 3, 1),
        "sessions": 3,
        "length": 20.0,
        "best_volume_low": 12.2,
        "best_volume_high": 33.0,
    }
    now = before | {"sessions": 5, "length": 24.0, "best_volume_low": 15.0}
    assert plain(words.changed_sentence(before, now, "efforts")) == (
        "Since 1 Mar 2026 your length has gone from 20 to 24 efforts, with 2 sessions more. Where"
        " you are best: 12 to 33 then, 15 to 33 now (90 % interval)."
    )
    assert "stayed at 20 efforts, from the same" in words.changed_sentence(
        before, before, "efforts"
    )


def test_a_trial_is_set_up_gone_through_and_told(filled_store: Store, sign_in: SignIn) -> None:
    plan = PlanEntry(
        date.today() - timedelta(days=1), "A1", "jump_height", "best", 1, 40.0, 15.0, 40.0
    )
    record_outcome(filled_store, save_choice(filled_store, plan, "carl"), 30.0, 41.0, "carl")
    page = sign_in(filled_store, "carl", "did_it_work")
    assert "0 of 1 recorded plan done as planned" in told(page)
    page.selectbox(key="outcome_athlete").select("A1").run()
    assert "The model's own view: after 25 efforts against 15" in told(page)
    page.button(key="trial_begin_jump_height_A1_0").click().run()
    assert "The order is drawn and saved." in told(page)
    rows = trial_sessions(filled_store, "A1", "jump_height")
    assert len(rows) == 12 and set(rows["volume"]) == {15.0, 25.0}
    page.button(key="trial_set").click().run()
    page.button(key="trial_record").click().run()
    assert "needs the start value" in page.error[0].value
    [value] = [each for each in page.number_input if each.key.startswith("trial_value")]
    value.set_value(41.5)
    page.button(key="trial_record").click().run()
    assert "1 of 12 sessions have a start value" in told(page)
    row = trial_sessions(filled_store, "A1", "jump_height").iloc[0]
    assert row["outcome"] == 41.5 and row["done_volume"] == row["volume"]
    own = told(sign_in(filled_store, "long.one", "my_warm_up"))
    assert "You are in a trial of 15 against 25 efforts: 1 of 12 sessions done." in own
    assert f"Set for you today: {row['volume']:.0f} efforts." in own
    page.button(key="trial_end").click().run()
    assert "It was ended early." in told(page)
    assert running_trials(filled_store, "jump_height").empty


def test_a_link_is_shown_once_and_revoked(filled_store: Store, sign_in: SignIn) -> None:
    page = sign_in(filled_store, "carl", "athlete")
    page.selectbox(key="athlete").select("A1").run()
    page.button(key="link_make_A1_0").click().run()
    [address] = page.code
    assert address.value.startswith("http") and "/curve/" in address.value
    [number] = private_links(filled_store, "A1")["link_id"]
    page.run()
    assert not page.code
    page.button(key=f"link_revoke_{number}").click().run()
    assert "opens nothing any more" in told(page)
    assert private_links(filled_store, "A1").empty


def test_running_trials_are_listed(filled_store: Store) -> None:
    order = (True, False, False, True)
    begin_trial(filled_store, TrialEntry("A2", "jump_height", 4.0, 15.0, 9, order), "carl")
    [row] = running_trials(filled_store, "jump_height").to_dict("records")
    assert (row["name"], row["sessions"], row["recorded"]) == ("Short Two", 4, 0)
