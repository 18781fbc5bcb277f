"""The one rule that sets an athlete's length."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from modeling.curve.account import Account, Circumstances
from modeling.curve.length import Day, Limits, Needs, length
from modeling.errors import ModelError

STANDARD = 15.0
USUAL = Circumstances(general_minutes=8.0, rest_minutes=5.0)

volumes = st.floats(0.0, 120.0)
calls = st.sampled_from(["short", "long", "either", "not known"])


def needs(call: str = "either", advised: float = STANDARD, good: object = (11.0, 19.0)) -> Needs:
    return Needs(STANDARD, call, advised, good)


def day(**changed: float) -> Day:
    return Day(Account(), USUAL, Circumstances(**{**vars(USUAL), **changed}))


@pytest.mark.parametrize("call", ["either", "not known"])
@given(advised=volumes)
def test_nobody_leaves_the_standard_without_a_firm_call(call: str, advised: float) -> None:
    assert length(needs(call, advised)).volume == STANDARD


def test_short_and_long_get_what_is_advised() -> None:
    assert length(needs("short", 6.0, (4.0, 8.0))).volume == 6.0
    found = length(needs("long", 34.4, (28.0, 41.0)))
    assert (found.volume, found.because, found.limited_by) == (34.0, "call", None)


@given(call=calls, advised=volumes)
def test_a_length_never_lies_on_the_wrong_side_of_the_standard(call: str, advised: float) -> None:
    found = length(needs(call, advised)).volume
    assert found <= STANDARD if call == "short" else found >= STANDARD


@given(first=volumes, second=volumes, call=calls)
def test_a_later_peak_never_makes_it_shorter(first: float, second: float, call: str) -> None:
    low, high = sorted([first, second])
    assert length(needs(call, low)).volume <= length(needs(call, high)).volume


@given(call=calls, advised=volumes, done=st.floats(0.0, 80.0), allowed=st.floats(0.0, 80.0))
def test_limits_hold_on_every_day(call: str, advised: float, done: float, allowed: float) -> None:
    limits = Limits(done, allowed)
    cold = day(ambient_c=2.0, hour=8.0, general_minutes=3.0)
    for found in (length(needs(call, advised), limits), length(needs(call, advised), limits, cold)):
        assert found.volume <= min(1.25 * done + 1e-6, allowed)
        assert (found.limited_by is None) == (found.volume == np.round(found.wanted))


def test_a_limit_says_what_it_is_and_what_would_be_done_without_it() -> None:
    late = needs("long", 78.0, (70.0, 90.0))
    by_club = length(late, Limits(most_done=60.0, most_allowed=25.0))
    assert (by_club.volume, by_club.wanted, by_club.limited_by) == (25.0, 78.0, "club")
    by_habit = length(late, Limits(most_done=17.0))
    assert (by_habit.volume, by_habit.limited_by) == (21.0, "most done")
    with pytest.raises(ModelError, match="0 or more"):
        Limits(most_done=-1.0)


def test_a_day_changes_nothing_within_the_good_range() -> None:
    assert length(needs(), day=day(ambient_c=14.0)).because == "standard"
    assert length(needs(good=None), day=day(ambient_c=-10.0)).volume == STANDARD


def test_a_longer_length_makes_up_for_a_cold_hall() -> None:
    cold = day(ambient_c=0.0, hour=8.0, general_minutes=0.0)
    found = length(needs(good=(13.0, 17.0)), day=cold)
    counted = cold.account.volume_in_effect(np.array([STANDARD]), USUAL)[0]
    now = cold.account.volume_in_effect(np.array([found.volume]), cold.around)[0]
    assert found.because == "day" and found.volume > STANDARD
    assert now == pytest.approx(counted, abs=0.6)


@given(rest=st.floats(0.0, 120.0), call=calls, advised=volumes)
def test_a_wait_never_asks_for_more_beforehand(rest: float, call: str, advised: float) -> None:
    who = needs(call, advised, (max(advised - 4.0, 0.0), advised + 4.0))
    usual, waited = length(who, day=day()), length(who, day=day(rest_minutes=rest))
    if rest > USUAL.rest_minutes:
        assert waited.volume <= usual.volume
    assert 0.0 <= waited.top_up <= 5.0


def test_a_top_up_brings_back_what_a_long_wait_took() -> None:
    waited = day(rest_minutes=12.0)
    found = length(needs(good=(13.0, 19.0)), day=waited)
    account = waited.account
    low = account.volume_in_effect(np.array([13.0]), USUAL)[0]
    counts = account.volume_in_effect(np.array([found.volume]), waited.around)[0]
    assert counts < low <= counts + account.stretch(waited.around) * found.top_up
    assert length(needs(good=(13.0, 19.0)), day=day(rest_minutes=90.0)).top_up == 5.0
    assert length(needs(good=(13.0, 19.0)), day=day()).top_up == 0.0


def test_with_a_long_wait_part_of_the_limit_is_kept_for_just_before_the_start() -> None:
    """Doing 25 an hour before the start and nothing after that is no warm-up at all."""
    late, limits = needs("long", 76.0, (66.0, 88.0)), Limits(most_done=60.0, most_allowed=25.0)
    waited = length(late, limits, day(rest_minutes=60.0))
    assert (waited.volume, waited.top_up, waited.limited_by) == (20.0, 5.0, "club")
    assert length(late, limits, day()).volume == 25.0


def test_a_wait_brings_back_what_it_took_and_no_more() -> None:
    """An athlete whose standard is below their good range is not lifted into it by a wait."""
    low = needs("not known", 27.0, (18.0, 32.0))
    short, long_wait = (length(low, day=day(rest_minutes=rest)) for rest in (5.0, 12.0))
    assert short.volume == STANDARD and short.top_up <= 2.0
    account, around = day().account, day(rest_minutes=12.0).around
    usual = account.volume_in_effect(np.array([STANDARD]), USUAL)[0]
    counts = account.volume_in_effect(np.array([STANDARD]), around)[0]
    assert long_wait.top_up == min(np.ceil((usual - counts) / account.stretch(around)), 5.0)


def test_a_wait_that_took_less_than_a_whole_effort_needs_no_top_up() -> None:
    low = needs("not known", 27.0, (18.0, 32.0))
    assert length(low, day=day(rest_minutes=6.0)).top_up == 0.0
    assert length(low, day=day(rest_minutes=8.0)).top_up == 2.0


def test_at_the_limit_part_is_kept_for_after_the_wait_once_that_pays() -> None:
    late, limits = needs("long", 76.0, (66.0, 88.0)), Limits(most_done=60.0, most_allowed=25.0)
    # Five efforts keep 0.5 of an effort more if the wait is three minutes shorter, 1.4 if ten.
    shorter, longer = (length(late, limits, day(rest_minutes=5.0 + wait)) for wait in (3.0, 10.0))
    assert (shorter.volume, shorter.top_up) == (25.0, 0.0)
    assert (longer.volume, longer.top_up) == (20.0, 5.0)


def test_an_athlete_not_known_yet_gets_a_top_up_only_after_a_long_wait() -> None:
    unknown = needs("not known", 20.0, None)
    assert length(unknown, day=day(rest_minutes=15.0)).top_up == 0.0
    found = length(unknown, Limits(most_allowed=18.0), day(rest_minutes=20.0))
    assert (found.volume, found.top_up) == (13.0, 5.0)
