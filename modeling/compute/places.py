"""Places that hold the parts of a squad during a fit.

A fit's athletes are divided among places: this process, other processes, or machines. A part is
sent to its place once. After that it only receives what was learned, and answers with sums. A
`Compute` opens such places.

A part depends only on what it was made from and on the changes it was given. So if a place is lost,
only the work done there is lost: the part is made again from its rows and given the same changes.
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
"""Waits for the answer to a question, and returns it."""

MOST_LOST = 3
"""Times that a place may be lost over one question before the fit gives up."""


class PlaceLost(Exception):
    """A place is gone, with everything it held."""


@cache
def _linear_algebra() -> ThreadpoolController:
    """Find the libraries whose threads we limit, once."""
    return ThreadpoolController()


def one_thread() -> AbstractContextManager[object]:
    """Use one thread: the matrices are small, so more would only wait for each other."""
    limit: AbstractContextManager[object] = _linear_algebra().limit(limits=1)
    return limit


class Holder:
    """Holds one part at its place, and calls its methods."""

    def __init__(self) -> None:
        self.part: Any = None

    def make(self, kind: Callable[..., Any], arguments: tuple[Any, ...]) -> None:
        """Make the part, replacing an earlier one."""
        self.part = None
        with one_thread():
            self.part = kind(*arguments)

    def do(self, method: str, arguments: tuple[Any, ...]) -> Any:
        """Call one of the part's methods."""
        with one_thread():
            return getattr(self.part, method)(*arguments)


class Place(Protocol):
    """Somewhere with a `Holder`.

    `make` and `do` only begin; both they and their answers may raise `PlaceLost`.
    """

    def make(self, kind: Callable[..., Any], arguments: tuple[Any, ...]) -> Answer:
        """Begin `Holder.make`."""
        ...

    def do(self, method: str, arguments: tuple[Any, ...]) -> Answer:
        """Begin `Holder.do`."""
        ...

    def renew(self) -> None:
        """Replace a place that is lost."""
        ...


class Compute(Protocol):
    """Opens places; any such object can be `ResponseModel(compute=...)`."""

    def places(self) -> AbstractContextManager[Sequence[Place]]:
        """Open places, one for each part, and close them afterwards."""
        ...


class Here:
    """A place in this process: everything is done at once when it is asked."""

    def __init__(self) -> None:
        self._holder = Holder()

    def make(self, kind: Callable[..., Any], arguments: tuple[Any, ...]) -> Answer:
        """Make the part."""
        self._holder.make(kind, arguments)
        return lambda: None

    def do(self, method: str, arguments: tuple[Any, ...]) -> Answer:
        """Call one of the part's methods."""
        found = self._holder.do(method, arguments)
        return lambda: found

    def renew(self) -> None:
        """Do nothing: a place in this process is never lost by itself."""


@dataclass(frozen=True)
class ThisProcess:
    """All athletes in this process.

    Parameters
    ----------
    parts : int
        Number of parts; more than one is no quicker.
    """

    parts: int = 1

    @contextmanager
    def places(self) -> Iterator[Sequence[Place]]:
        """Open places in this process."""
        yield [Here() for _ in range(self.parts)]


class Parts:
    """The parts of one squad, each at its place; they are asked together and answer in order.

    Parameters
    ----------
    places : sequence of Place
        The first ones are used, as many as there are parts.
    kind : callable
        Makes a part.
    made_from : list of tuple
        Arguments that each part is made from.
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
        """Whether all parts are in this process."""
        return all(isinstance(at, Here) for at in self._places)

    def ask(self, method: str, *arguments: Any) -> list[Any]:
        """Ask every part something that does not change it."""
        questions = [partial(at.do, method, arguments) for at in self._places]
        begun = [self._begun(question) for question in questions]
        return [
            self._answered(number, answer, again)
            for number, (answer, again) in enumerate(zip(begun, questions, strict=True))
        ]

    def change(self, method: str, *arguments: Any) -> list[Any]:
        """Tell every part something that changes it, and return the answers."""
        found = self.ask(method, *arguments)
        self._changes.append((method, arguments))
        return found

    @staticmethod
    def _begun(question: Callable[[], Answer]) -> Answer:
        """Begin a question; if the place is lost, only waiting for the answer raises it."""
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
            f"A worker was lost {MOST_LOST} times over the same task. Most often its memory is"
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
    """Deal a list out into at most this many parts, none of them empty."""
    count = min(most, len(whole))
    return [whole[first::count] for first in range(count)]


def in_order(parts: list[list[Any]]) -> list[Any]:
    """Put what was `dealt` back into its original order."""
    whole: list[Any] = [None] * sum(len(part) for part in parts)
    for first, part in enumerate(parts):
        whole[first :: len(parts)] = part
    return whole


def _raising(error: Exception) -> Answer:
    def answer() -> Any:
        raise error

    return answer
