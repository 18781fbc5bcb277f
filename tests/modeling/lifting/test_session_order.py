"""Warm-ups for single exercises, and their order, by common practice."""

from __future__ import annotations

from dataclasses import replace

import pytest

from modeling.curve.waiting import AFTER_HARD_SETS
from modeling.errors import ModelError
from modeling.lifting.session_order import OrderedExercise, order_remarks, own_warm_ups

LEGS = frozenset({"ankle", "knee", "hip", "spine"})
ARMS = frozenset({"shoulder blade", "shoulder", "elbow"})
CLEAN = OrderedExercise("Power clean", LEGS | {"elbow"}, 3, "weightlifting", "power")
SQUAT = OrderedExercise("Back squat", LEGS, 2, "squat", "strength")
LUNGE = OrderedExercise("Walking lunge", LEGS - {"spine"}, 1, "lunge", "growth")
BENCH = OrderedExercise("Bench press", ARMS, 2, "push", "strength")
ARM_CURL = OrderedExercise("Arm curl", frozenset({"elbow"}), 1, "single joint", "growth")


def hows(*exercises: OrderedExercise) -> list[str]:
    return [each.how for each in own_warm_ups(exercises)]


DEADLIFT = OrderedExercise("Deadlift", LEGS - {"ankle"}, 2, "hinge", "strength", share_of_max=0.85)
JUMP = OrderedExercise("Countermovement jump", LEGS - {"spine"}, 1, "jump", "power")
SPRINT = OrderedExercise("Flying sprint", LEGS - {"spine"}, 3, "sprint", "speed")


def test_the_first_gets_its_own_and_light_work_of_warm_joints_needs_none() -> None:
    found = own_warm_ups([CLEAN, replace(SQUAT, share_of_max=0.7), LUNGE])
    assert [each.how for each in found] == ["full", "none", "none"]
    assert found[0].reason == "It comes first: as much as it takes to move well."
    assert found[1].reason == "It is light enough, and the same joints have worked before it."


def test_warm_joints_shorten_a_build_up_and_never_replace_it() -> None:
    found = own_warm_ups([SQUAT, DEADLIFT])
    assert (found[1].how, found[1].reason) == (
        "short",
        "It is heavy: warm joints shorten the build-up but do not replace it.",
    )
    assert hows(SQUAT, replace(DEADLIFT, share_of_max=0.79)) == ["full", "none"]
    assert hows(replace(SPRINT, name="Acceleration sprint"), SPRINT) == ["full", "short"]
    assert hows(CLEAN, replace(CLEAN, name="Power snatch"), JUMP) == ["full", "short", "short"]
    assert hows(SQUAT, replace(SQUAT, name="Front squat", goal="power")) == ["full", "short"]


def test_a_heavy_or_fast_exercise_that_is_new_to_joints_builds_up_in_full() -> None:
    found = own_warm_ups([SQUAT, BENCH])
    assert found[1].how == "full"
    assert "may be heavy, as its maximum is not known, and new to the elbow" in found[1].reason
    assert hows(SQUAT, CLEAN) == ["full", "full"]
    assert hows(SQUAT, replace(BENCH, share_of_max=0.75)) == ["full", "some"]


def test_a_simple_exercise_needs_none_wherever_it_stands() -> None:
    found = own_warm_ups([SQUAT, ARM_CURL])
    assert (found[1].how, found[1].reason) == (
        "none",
        "It is new to the elbow, but simple enough to begin with.",
    )


def test_an_exercise_being_learned_is_practised() -> None:
    assert hows(CLEAN, replace(LUNGE, being_learned=True)) == ["full", "practice"]
    assert hows(replace(LUNGE, being_learned=True)) == ["full"]
    assert hows(CLEAN, replace(DEADLIFT, being_learned=True)) == ["full", "full"]


def test_the_priority_comes_first() -> None:
    assert order_remarks([CLEAN, SQUAT, LUNGE]) == []
    assert order_remarks([LUNGE, SQUAT, CLEAN]) == [
        "Back squat is for strength and stands after Walking lunge: put what needs a fresh athlete "
        "first.",
        "Power clean is for power and stands after Walking lunge and Back squat: put what needs a "
        "fresh athlete first.",
    ]
    assert order_remarks([replace(SQUAT, goal="power"), CLEAN]) == [
        "Power clean is more complex than Back squat: the first exercise is the priority and "
        "usually the most complex."
    ]


def test_heavy_then_explosive_is_a_contrast_pair_and_no_wrong_order() -> None:
    [pair] = order_remarks([SQUAT, JUMP])
    assert pair.startswith("Back squat, then Countermovement jump: a contrast pair; rest 3 to 7")
    assert pair.endswith(AFTER_HARD_SETS) and "0.18 (0.05 to 0.31; Dobbs et al. 2019" in pair
    after_growth = order_remarks([LUNGE, SQUAT, JUMP])
    assert any(
        "Countermovement jump is for power and stands after Walking lunge" in one
        for one in after_growth
    )
    assert not any("after Walking lunge and Back squat" in one for one in after_growth)
    apart = order_remarks([BENCH, JUMP])
    assert apart[0].startswith("Countermovement jump is for power and stands after Bench press")


def test_three_to_five_working_sets() -> None:
    found = order_remarks([replace(SQUAT, working_sets=1), replace(LUNGE, working_sets=6)])
    assert found == [
        "Back squat has 1 working set; 3 to 5 are usual.",
        "Walking lunge has 6 working sets; 3 to 5 are usual.",
    ]


def test_without_exercises_there_is_nothing_to_say() -> None:
    assert own_warm_ups([]) == order_remarks([]) == []


def test_an_unknown_goal_is_refused() -> None:
    with pytest.raises(ModelError, match="one of skill, speed, power, strength, growth. Got fun"):
        replace(SQUAT, goal="fun")
