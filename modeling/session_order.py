"""The order of a session's exercises, and which of them need a warm-up of their own.

The rules are common practice, no source: the first exercise is the priority and usually the most
complex, and its warm-up is as long as it takes to move well; a later one needs none, unless it
is still being learned, or complex and unlike what went before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from modeling.errors import ModelError

__all__ = ["GOALS", "OrderedExercise", "OwnWarmUp", "order_remarks", "own_warm_ups"]

GOALS = ("skill", "speed", "power", "strength", "growth")
"""What an exercise is for; what wants a fresh athlete most stands first."""
FRESHNESS = {"skill": 0, "speed": 0, "power": 0, "strength": 1, "growth": 2}
FEWEST_SETS, MOST_SETS = 3, 5
COMPLEX, SOME_SKILL = 3, 2


@dataclass(frozen=True)
class OrderedExercise:
    """An exercise as it stands in a session.

    Attributes
    ----------
    name : str
    joints : frozenset of str
        Joints that work.
    complexity : int
        1 simple, 2 some skill, 3 complex.
    kind : str
        Kind of movement, such as squat or throw.
    goal : str
        One of `GOALS`.
    being_learned : bool
        Whether the athlete is still learning it.
    working_sets : int
    """

    name: str
    joints: frozenset[str]
    complexity: int
    kind: str
    goal: str
    being_learned: bool = False
    working_sets: int = FEWEST_SETS

    def __post_init__(self) -> None:
        if self.goal not in GOALS:
            raise ModelError(f"The goal must be one of {', '.join(GOALS)}. Got {self.goal}.")


@dataclass(frozen=True)
class OwnWarmUp:
    """How much of a warm-up an exercise needs of its own, and why.

    Attributes
    ----------
    how : {"full", "practice", "some", "none"}
        As much as it takes; lighter practice sets; a little; none.
    reason : str
        One sentence.
    """

    how: str
    reason: str


def own_warm_ups(exercises: Sequence[OrderedExercise]) -> list[OwnWarmUp]:
    """Say for each exercise of a session, in order, which warm-up of its own it needs."""
    return [_own_warm_up(each, exercises[:place]) for place, each in enumerate(exercises)]


def _own_warm_up(exercise: OrderedExercise, before: Sequence[OrderedExercise]) -> OwnWarmUp:
    if not before:
        return OwnWarmUp("full", "It comes first: as much as it takes to move well.")
    if exercise.being_learned:
        return OwnWarmUp("practice", "It is still being learned: lighter sets to practise it.")
    done = frozenset().union(*(each.joints for each in before))
    new = sorted(exercise.joints - done)
    new_kind = exercise.kind not in {each.kind for each in before}
    if new_kind and exercise.complexity >= COMPLEX:
        return OwnWarmUp("some", "It is complex and unlike what went before.")
    if new_kind and new and exercise.complexity >= SOME_SKILL:
        return OwnWarmUp("some", f"It takes some skill, and is new to the {_listed(new)}.")
    if new:
        return OwnWarmUp("none", f"It is simple enough to begin with, new to the {_listed(new)}.")
    return OwnWarmUp("none", "The same joints have worked before it.")


def order_remarks(exercises: Sequence[OrderedExercise]) -> list[str]:
    """Say what about the order and the number of sets is not as it is usually done.

    Returns
    -------
    list of str
        Sentences; empty when there is nothing to say.
    """
    return [*_priority_remarks(exercises), *_set_remarks(exercises)]


def _priority_remarks(exercises: Sequence[OrderedExercise]) -> list[str]:
    remarks = []
    for place, exercise in enumerate(exercises):
        tiring = [
            each.name
            for each in exercises[:place]
            if FRESHNESS[each.goal] > FRESHNESS[exercise.goal]
        ]
        if tiring:
            remarks.append(
                f"{exercise.name} is for {exercise.goal} and stands after {_listed(tiring)}: what "
                "wants a fresh athlete comes first."
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


def _set_remarks(exercises: Sequence[OrderedExercise]) -> list[str]:
    return [
        f"{each.name} has {each.working_sets} working {'set' if each.working_sets == 1 else 'sets'}"
        f"; {FEWEST_SETS} to {MOST_SETS} are usual."
        for each in exercises
        if not FEWEST_SETS <= each.working_sets <= MOST_SETS
    ]


def _listed(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]
