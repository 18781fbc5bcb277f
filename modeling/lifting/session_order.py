"""The order of a session's exercises, and which of them need a warm-up of their own.

The rules are common practice, no source. The first exercise is the priority and usually the most
complex, and its warm-up is as long as it takes to move well. Every heavy, ballistic or
maximal-speed exercise has its own build-up, wherever it comes: warm joints shorten the build-up but
do not replace it. Others need none, unless they are still being learned, use new joints and take
some skill, or are complex and unlike what went before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from modeling.curve.waiting import AFTER_HARD_SETS
from modeling.errors import ModelError

__all__ = [
    "GOALS",
    "HEAVY_SHARE",
    "OrderedExercise",
    "OwnWarmUp",
    "goal_name",
    "order_remarks",
    "own_warm_ups",
]

GOALS = ("skill", "speed", "power", "strength", "growth")
"""What an exercise is for; goals that need a fresh athlete most come first."""
FRESHNESS = {"skill": 0, "speed": 0, "power": 0, "strength": 1, "growth": 2}
FEWEST_SETS, MOST_SETS = 3, 5
COMPLEX, SOME_SKILL = 3, 2
HEAVY_SHARE = 0.80
"""From this share of the maximum on, everybody builds up to the load."""
FULL_SPEED = {
    "jump": "ballistic",
    "throw": "ballistic",
    "weightlifting": "ballistic",
    "sprint": "at maximal speed",
}
EXPLOSIVE_GOALS = ("speed", "power")
PAIRED = ("jump", "throw", "sprint")
"""Kinds of exercise that can follow a heavy lift as the second half of a contrast pair."""
PAIR_REST = f"rest 3 to 7 minutes between the two. {AFTER_HARD_SETS}"


def goal_name(goal: str) -> str:
    """Return a goal in everyday words."""
    return "muscle growth" if goal == "growth" else goal


@dataclass(frozen=True)
class OrderedExercise:
    """An exercise in a session.

    Attributes
    ----------
    name : str
    joints : frozenset of str
        Joints that it uses.
    complexity : int
        1 simple, 2 some skill, 3 complex.
    kind : str
        Kind of movement, such as squat or throw.
    goal : str
        One of `GOALS`.
    being_learned : bool
        Whether the athlete is still learning it.
    working_sets : int
    share_of_max : float or None
        Working load as a share of the one-repetition maximum; None if that is not known.
    """

    name: str
    joints: frozenset[str]
    complexity: int
    kind: str
    goal: str
    being_learned: bool = False
    working_sets: int = FEWEST_SETS
    share_of_max: float | None = None

    @property
    def demand(self) -> str:
        """Why it needs a build-up wherever it comes; empty if it does not."""
        if self.kind in FULL_SPEED:
            return FULL_SPEED[self.kind]
        if self.goal in EXPLOSIVE_GOALS:
            return "moved as fast as possible"
        if self.share_of_max is not None and self.share_of_max >= HEAVY_SHARE:
            return "heavy"
        if self.goal == "strength" and self.share_of_max is None:
            return "for strength and may be heavy, as its maximum is not known"
        return ""

    def __post_init__(self) -> None:
        if self.goal not in GOALS:
            raise ModelError(f"The goal must be one of {', '.join(GOALS)}. Got {self.goal}.")


@dataclass(frozen=True)
class OwnWarmUp:
    """How much warm-up of its own an exercise needs, and why.

    Attributes
    ----------
    how : {"full", "short", "practice", "some", "none"}
        As much as it takes; all but the lightest sets; lighter practice sets; a little; none.
    reason : str
        One sentence.
    """

    how: str
    reason: str


def own_warm_ups(exercises: Sequence[OrderedExercise]) -> list[OwnWarmUp]:
    """Say which warm-up of its own each exercise of a session needs, in order."""
    return [_own_warm_up(each, exercises[:place]) for place, each in enumerate(exercises)]


def _own_warm_up(exercise: OrderedExercise, before: Sequence[OrderedExercise]) -> OwnWarmUp:
    if not before:
        return OwnWarmUp("full", "It comes first: as much as it takes to move well.")
    if exercise.being_learned and not exercise.demand:
        return OwnWarmUp("practice", "It is still being learned: lighter sets to practise it.")
    if exercise.being_learned:
        return OwnWarmUp("full", f"It is still being learned, and is {exercise.demand}.")
    done = frozenset().union(*(each.joints for each in before))
    new = sorted(exercise.joints - done)
    if exercise.demand:
        return _build_up(exercise.demand, new)
    new_kind = exercise.kind not in {each.kind for each in before}
    if new and exercise.complexity >= SOME_SKILL:
        return OwnWarmUp("some", f"It takes some skill, and is new to the {_listed(new)}.")
    if new_kind and exercise.complexity >= COMPLEX:
        return OwnWarmUp("some", "It is complex and unlike what went before.")
    if new:
        return OwnWarmUp(
            "none", f"It is new to the {_listed(new)}, but simple enough to begin with."
        )
    return OwnWarmUp("none", "It is light enough, and the same joints have worked before it.")


def _build_up(demand: str, new: Sequence[str]) -> OwnWarmUp:
    if new:
        return OwnWarmUp("full", f"It is {demand}, and new to the {_listed(new)}.")
    return OwnWarmUp(
        "short", f"It is {demand}: warm joints shorten the build-up but do not replace it."
    )


def order_remarks(exercises: Sequence[OrderedExercise]) -> list[str]:
    """Say what is unusual about the order and the number of sets.

    Returns
    -------
    list of str
        Sentences; empty when there is nothing to say.
    """
    return [*_priority_remarks(exercises), *_set_remarks(exercises)]


def _priority_remarks(exercises: Sequence[OrderedExercise]) -> list[str]:
    remarks = []
    for place, exercise in enumerate(exercises):
        before = exercises[:place]
        if before and _are_a_pair(before[-1], exercise):
            remarks.append(f"{before[-1].name}, then {exercise.name}: a contrast pair; {PAIR_REST}")
            before = before[:-1]
        tiring = [each.name for each in before if FRESHNESS[each.goal] > FRESHNESS[exercise.goal]]
        if tiring:
            remarks.append(
                f"{exercise.name} is for {goal_name(exercise.goal)} and stands after "
                f"{_listed(tiring)}: put what needs a fresh athlete first."
            )
    first = exercises[0] if exercises else None
    for exercise in exercises[1:]:
        if (
            first
            and FRESHNESS[exercise.goal] == FRESHNESS[first.goal]
            and exercise.complexity > first.complexity
        ):
            remarks.append(
                f"{exercise.name} is more complex than {first.name}: the first exercise is the "
                "priority and usually the most complex."
            )
    return remarks


def _are_a_pair(heavy: OrderedExercise, explosive: OrderedExercise) -> bool:
    """Whether a heavy lift and the explosive exercise after it pair up, with joints in common."""
    return (
        heavy.goal == "strength"
        and heavy.demand != ""
        and explosive.kind in PAIRED
        and explosive.goal in EXPLOSIVE_GOALS
        and bool(heavy.joints & explosive.joints)
    )


def _set_remarks(exercises: Sequence[OrderedExercise]) -> list[str]:
    return [
        f"{each.name} has {each.working_sets} working {'set' if each.working_sets == 1 else 'sets'}"
        f"; {FEWEST_SETS} to {MOST_SETS} are usual."
        for each in exercises
        if not FEWEST_SETS <= each.working_sets <= MOST_SETS
    ]


def _listed(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]
