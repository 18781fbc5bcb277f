"""Where the parts of a squad are held while a fit lasts, whoever computes.

A fit's athletes are parted among places: this process, other processes, or machines. A part is sent
to its place once; afterwards it is only told what was learned and answers with sums. Whatever holds
parts so is a `Compute`.

What a part is depends only on what it was made from and on the changes it was told, so a place that
is lost costs what was done there and nothing else: the part is made again from its rows and told
the same again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from functools import cache, partial
from typing import Any, Protocol

from threadpoolctl import ThreadpoolController

from modeling.errors import ModelError

__all__ = [
    "Compute",
    "Here",
    "Holder",
    "Parts",
    "Place",
    "PlaceLost",
    "ThisProcess",
    "dealt",
    "in_order",
    "one_thread",
]

Answer = Callable[[], Any]
"""Waits for what was asked, and gives it."""

MOST_LOST = 3
"""Times that one question may cost a part its place before the fit gives up."""


class PlaceLost(Exception):
    """A place is gone with all that it held."""


@cache
def _linear_algebra() -> ThreadpoolController:
    """Find the libraries whose threads are to be limited, once."""
    return ThreadpoolController()


def one_thread() -> AbstractContextManager[object]:
    """Keep to one thread: the matrices are small, more would only wait for each other."""
    limit: AbstractContextManager[object] = _linear_algebra().limit(limits=1)
    return limit


class Holder:
    """Holds one part where it is, and does with it what it is asked."""

    def __init__(self) -> None:
        self.part: Any = None

    def make(self, kind: Callable[..., Any], arguments: tuple[Any, ...]) -> None:
        """Make the part, in the place of one made before."""
        self.part = None
        with one_thread():
            self.part = kind(*arguments)

    def do(self, method: str, arguments: tuple[Any, ...]) -> Any:
        """Call one of its methods."""
        with one_thread():
            return getattr(self.part, method)(*arguments)


class Place(Protocol):
    """Somewhere with a `Holder`; both questions are begun, and may raise `PlaceLost` when asked."""

    def make(self, kind: Callable[..., Any], arguments: tuple[Any, ...]) -> Answer:
        """Begin `Holder.make`."""
        ...

    def do(self, method: str, arguments: tuple[Any, ...]) -> Answer:
        """Begin `Holder.do`."""
        ...

    def renew(self) -> None:
        """Find another place for one that is lost."""
        ...


class Compute(Protocol):
    """Who computes; whatever opens places serves as `ResponseModel(compute=...)`."""

    def places(self) -> AbstractContextManager[Sequence[Place]]:
        """Open places, as many as parts are to be; they are closed afterwards."""
        ...


class Here:
    """A place in this process: all is done when it is asked."""

    def __init__(self) -> None:
        self._holder = Holder()

    def make(self, kind: Callable[..., Any], arguments: tuple[Any, ...]) -> Answer:
        """Make the part."""
        self._holder.make(kind, arguments)
        return lambda: None

    def do(self, method: str, arguments: tuple[Any, ...]) -> Answer:
        """Call one of its methods."""
        found = self._holder.do(method, arguments)
        return lambda: found

    def renew(self) -> None:
        """Need nothing: what is in this process is never lost alone."""


@dataclass(frozen=True)
class ThisProcess:
    """All athletes in this process.

    Parameters
    ----------
    parts : int
        In so many parts; more than one are no quicker.
    """

    parts: int = 1

    @contextmanager
    def places(self) -> Iterator[Sequence[Place]]:
        """Open places in this process."""
        yield [Here() for _ in range(self.parts)]


class Parts:
    """The parts of one squad, each held at its place: asked together, answering in order.

    Parameters
    ----------
    places : sequence of Place
        Of these the first, as many as there are parts.
    kind : callable
        What makes a part.
    made_from : list of tuple
        What each is made from.
    """

    def __init__(
        self,
        places: Sequence[Place],
        kind: Callable[..., Any],
        made_from: list[tuple[Any, ...]],
    ) -> None:
        self._places = places[: len(made_from)]
        self._kind, self._made_from = kind, made_from
        self._changes: list[tuple[str, tuple[Any, ...]]] = []
        begun = [
            self._begun(partial(at.make, kind, own))
            for at, own in zip(self._places, made_from, strict=True)
        ]
        for number, answer in enumerate(begun):
            self._answered(number, answer, lambda: lambda: None)

    @property
    def here(self) -> bool:
        """Whether all is in this process."""
        return all(isinstance(at, Here) for at in self._places)

    def ask(self, method: str, *arguments: Any) -> list[Any]:
        """Ask every part something that leaves it as it is."""
        questions = [partial(at.do, method, arguments) for at in self._places]
        begun = [self._begun(question) for question in questions]
        return [
            self._answered(number, answer, again)
            for number, (answer, again) in enumerate(zip(begun, questions, strict=True))
        ]

    def change(self, method: str, *arguments: Any) -> list[Any]:
        """Tell every part something that changes it, and give what they answer."""
        found = self.ask(method, *arguments)
        self._changes.append((method, arguments))
        return found

    @staticmethod
    def _begun(question: Callable[[], Answer]) -> Answer:
        """Begin a question; that a place is lost is told when the answer is waited for."""
        try:
            return question()
        except PlaceLost as lost:
            return _raising(lost)

    def _answered(self, number: int, answer: Answer, again: Callable[[], Answer]) -> Any:
        for _ in range(MOST_LOST):
            try:
                return answer()
            except PlaceLost:
                answer = self._begun(lambda: self._asked_anew(number, again))
        raise ModelError(
            f"A worker was lost {MOST_LOST} times while it did the same. Most often its memory is"
            " too small: give it more, or fit with more workers, so that each holds fewer athletes."
        )

    def _asked_anew(self, number: int, again: Callable[[], Answer]) -> Answer:
        """Make a part again from its rows, tell it all its changes, and ask again."""
        at = self._places[number]
        at.renew()
        at.make(self._kind, self._made_from[number])()
        for method, arguments in self._changes:
            at.do(method, arguments)()
        return again()


def dealt(whole: list[Any], most: int) -> list[list[Any]]:
    """Deal a list out to so many parts, or as many as have one each."""
    count = min(most, len(whole))
    return [whole[first::count] for first in range(count)]


def in_order(parts: list[list[Any]]) -> list[Any]:
    """Put what was `dealt` back into its order."""
    whole: list[Any] = [None] * sum(len(part) for part in parts)
    for first, part in enumerate(parts):
        whole[first :: len(parts)] = part
    return whole


def _raising(error: Exception) -> Answer:
    def answer() -> Any:
        raise error

    return answer
