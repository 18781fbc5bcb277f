"""Timelines counted back from the start: what must always hold, and the best by brute force."""

from __future__ import annotations

from itertools import product
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from modeling import ModelError
from modeling.game.timeline import Turn, most_late, timeline

MINUTES = st.floats(0, 40)
WAVES = st.lists(MINUTES, min_size=1, max_size=4)


def at_once(turns: tuple[Turn, ...], moment: float) -> int:
    """Count the waves that run just after a moment, given in minutes before the start."""
    return sum(turn.ready < moment <= turn.begins for turn in turns)


@given(efforts=WAVES, general=MINUTES, gap=MINUTES, staff=st.integers(1, 4))
def test_waves_end_a_gap_before_the_start_and_no_leader_leads_two(
    efforts: list[float], general: float, gap: float, staff: int
) -> None:
    turns = timeline(general, efforts, gap, staff, lambda wave, rest: rest)
    assert min(turn.ready for turn in turns) == gap
    for turn, minutes in zip(turns, efforts, strict=True):
        assert turn.efforts_begin - turn.ready == pytest.approx(minutes)
        assert turn.begins - turn.efforts_begin == pytest.approx(general)
    for leader in range(staff):
        # A wave without any minutes may begin and end at the moment another ends.
        own = sorted(
            (turn for turn in turns if turn.leader == leader),
            key=lambda turn: (turn.ready, turn.begins),
        )
        assert all(
            later.begins <= earlier.ready for later, earlier in zip(own, own[1:], strict=False)
        )
    assert all(at_once(turns, turn.begins) <= staff for turn in turns)
    if len(efforts) <= staff:
        assert {turn.ready for turn in turns} == {gap}


@given(
    efforts=st.lists(MINUTES, min_size=2, max_size=4),
    prices=st.lists(st.floats(0, 5), min_size=4, max_size=4),
    staff=st.integers(1, 2),
)
def test_no_other_way_to_lead_the_waves_costs_less(
    efforts: list[float], prices: list[float], staff: int
) -> None:
    """Each leader leads first the waves whose waiting is cheapest for their minutes."""

    def cost(wave: int, rest: Any) -> Any:
        return prices[wave] * rest

    found = sum(cost(w, turn.ready) for w, turn in enumerate(timeline(6, efforts, 5, staff, cost)))
    ways = []
    for leaders in product(range(staff), repeat=len(efforts)):
        total = 0.0
        for leader in range(staff):
            own = [wave for wave, who in enumerate(leaders) if who == leader]
            own.sort(key=lambda wave: prices[wave] / (6 + efforts[wave]), reverse=True)
            rest = 5.0
            for wave in own:
                total += cost(wave, rest)
                rest += 6 + efforts[wave]
        ways.append(total)
    assert found == pytest.approx(min(ways), abs=1e-6)


def test_a_wave_that_begins_before_the_court_is_free_is_late() -> None:
    turns = timeline(6, [8, 20], 5, 2, lambda wave, rest: 0.0 * rest)
    assert most_late(turns, None) == most_late(turns, 31.0) == 0.0
    assert most_late(turns, 25.0) == 6.0


@pytest.mark.parametrize(
    ("efforts", "staff", "general", "sentence"),
    [
        ([1.0], 0, 6.0, "At least 1 of the staff"),
        ([], 2, 6.0, "1 to 6 waves. Got 0"),
        ([1.0] * 7, 2, 6.0, "1 to 6 waves. Got 7"),
        ([1.0], 2, -1.0, "less than 0 minutes"),
    ],
)
def test_an_impossible_timeline_gets_a_sentence(
    efforts: list[float], staff: int, general: float, sentence: str
) -> None:
    with pytest.raises(ModelError, match=sentence):
        timeline(general, efforts, 5.0, staff, lambda wave, rest: 0.0 * rest)
