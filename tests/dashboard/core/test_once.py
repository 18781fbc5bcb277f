from __future__ import annotations

from dashboard.core.once import once, one_answer

asked: list[tuple[str, int]] = []


@once
def question(store: str, number: int = 0) -> int:
    asked.append((store, number))
    return len(asked)


def test_a_question_is_asked_once_for_one_answer_and_anew_for_the_next() -> None:
    asked.clear()
    with one_answer():
        assert question("here", 1) == question("here", 1) == 1
        with one_answer():
            assert question("here", 1) == 2
        assert question("here", 1) == 1
    with one_answer():
        assert question("here", 1) == 3


def test_different_arguments_get_different_answers() -> None:
    asked.clear()
    with one_answer():
        for store, number in (("here", 1), ("there", 1), ("here", 2)):
            question(store, number=number)
            question(store, number=number)
        assert question("here") == question("here", 0) == question("here", number=0)
    assert asked == [("here", 1), ("there", 1), ("here", 2), ("here", 0)]


def test_nothing_is_remembered_outside_an_answer() -> None:
    asked.clear()
    assert question("here") < question("here")
