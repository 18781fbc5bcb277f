"""Cache questions that are asked again and again while one answer is worked out."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import wraps
from inspect import signature
from typing import Any, ParamSpec, TypeVar

__all__ = ["once", "one_answer"]

Args = ParamSpec("Args")
Answer = TypeVar("Answer")

_known: ContextVar[dict[Any, Any] | None] = ContextVar("known", default=None)


@contextmanager
def one_answer() -> Iterator[None]:
    """Work out one answer from one state of the store, running each `once` question only once."""
    token = _known.set({})
    try:
        yield
    finally:
        _known.reset(token)


def once(question: Callable[Args, Answer]) -> Callable[Args, Answer]:
    """Run a question only once within `one_answer`, and every time outside of it.

    All callers share what it returns, so nobody may change that. Answers are cached by the
    arguments, defaults included. A store, even one limited to what somebody may see, counts by
    its identity.
    """
    form = signature(question)

    @wraps(question)
    def answered(*args: Args.args, **kwargs: Args.kwargs) -> Answer:
        known = _known.get()
        if known is None:
            return question(*args, **kwargs)
        bound = form.bind(*args, **kwargs)
        bound.apply_defaults()
        asked = (question, bound.args, tuple(bound.kwargs.items()))
        if asked not in known:
            known[asked] = question(*args, **kwargs)
        answer: Answer = known[asked]
        return answer

    return answered
