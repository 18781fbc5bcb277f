"""Own warm-ups and order by the rules of the trade."""

from __future__ import annotations

from dataclasses import replace

import pytest

from modeling.errors import ModelError
from modeling.session_order import OrderedExercise, order_remarks, own_warm_ups

LEGS = frozenset({"ankle", "knee", "hip", "spine"})
ARMS = frozenset({"shoulder blade", "shoulder", "elbow"})
CLEAN = OrderedExercise("Power clean", LEGS | {"elbow"}, 3, "weightlifting", "power")
SQUAT = OrderedExercise("Back squat", LEGS, 2, "squat", "strength")
LUNGE = OrderedExercise("Walking lunge", LEGS - {"spine"}, 1, "lunge", "growth")
BENCH = OrderedExercise("Bench press", ARMS, 2, "push", "strength")
ARM_CURL = OrderedExercise("Arm curl", frozenset({"elbow"}), 1, "single joint", "growth")


def hows(*exercises: OrderedExercise) -> list[str]:
    return [each.how for each in own_warm_ups(exercises)]


def test_the_first_gets_its_own_and_the_same_joints_need_none() -> None:
    found = own_warm_ups([CLEAN, SQUAT, LUNGE])
    assert [each.how for each in found] == ["full", "none", "none"]
    assert found[0].reason == "It comes first: as much as it takes to move well."
    assert found[1].reason == "The same joints have worked before it."


def test_what_is_complex_and_unlike_gets_some() -> None:
    assert hows(SQUAT, CLEAN) == ["full", "some"]
    assert hows(CLEAN, replace(CLEAN, name="Power snatch")) == ["full", "none"]
    found = own_warm_ups([SQUAT, BENCH])
    assert found[1].how == "some"
    assert "new to the elbow, shoulder and shoulder blade" in found[1].reason


def test_what_is_simple_needs_none_wherever_it_stands() -> None:
    found = own_warm_ups([SQUAT, ARM_CURL])
    assert (found[1].how, found[1].reason) == (
        "none",
        "It is simple enough to begin with, new to the elbow.",
    )


def test_what_is_being_learned_is_practised() -> None:
    assert hows(CLEAN, replace(LUNGE, being_learned=True)) == ["full", "practice"]
    assert hows(replace(LUNGE, being_learned=True)) == ["full"]


def test_the_priority_comes_first() -> None:
    assert order_remarks([CLEAN, SQUAT, LUNGE]) == []
    assert order_remarks([LUNGE, SQUAT, CLEAN]) == [
        "Back squat is for strength and stands after Walking lunge: what wants a fresh athlete "
        "comes first.",
        "Power clean is for power and stands after Walking lunge and Back squat: what wants a "
        "fresh athlete comes first.",
    ]
    assert order_remarks([replace(SQUAT, goal="power"), CLEAN]) == [
        "Power clean is more complex than Back squat: the first exercise is the priority and "
        "usually the most complex."
    ]


def test_three_to_five_working_sets() -> None:
    found = order_remarks([replace(SQUAT, working_sets=1), replace(LUNGE, working_sets=6)])
    assert found == [
        "Back squat has 1 working set; 3 to 5 are usual.",
        "Walking lunge has 6 working sets; 3 to 5 are usual.",
    ]


def test_nothing_planned_is_nothing_to_say() -> None:
    assert own_warm_ups([]) == order_remarks([]) == []


def test_an_unknown_goal_is_refused() -> None:
    with pytest.raises(ModelError, match="one of skill, speed, power, strength, growth. Got fun"):
        replace(SQUAT, goal="fun")
