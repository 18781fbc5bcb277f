"""Processes of this machine that hold parts of a squad.

joblib's loky starts them, so a program needs no `__main__` guard. Loky's own pool cannot hold
parts: it hands a task to any free worker, and takes a worker that has grown by 300 MB for one that
leaks and ends it. So each part has an executor with one worker of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import cloudpickle
from joblib.externals.loky.backend import get_context

from modeling.compute.places import Answer, Holder, Place, PlaceLost
from modeling.errors import ModelError

__all__ = ["Processes"]

_holder = Holder()
"""The holder of a worker process."""


@dataclass(frozen=True)
class Processes:
    """Athletes divided among processes of this machine, which live as long as the fit.

    Parameters
    ----------
    count : int
        Number of processes, 1 or more; more than one per core gain nothing.

    Notes
    -----
    Units: none.
    Missing values: none.
    Errors: a ModelError if the count is below 1, or, during a fit, if a process was lost again and
    again.
    Source: joblib's loky starts them.
    """

    count: int

    def __post_init__(self) -> None:
        if self.count < 1:
            raise ModelError(f"A fit needs 1 process or more. Got {self.count}.")

    @contextmanager
    def places(self) -> Iterator[Sequence[Place]]:
        """Start the processes, and end them when the fit is done.

        Returns
        -------
        context manager
            Gives a place in each process.
        """
        places = [_Process() for _ in range(self.count)]
        try:
            yield places
        finally:
            for each in places:
                each.close()


class _Process:
    """A place with a process of its own."""

    def __init__(self) -> None:
        self._executor = _executor()

    def make(self, kind: Callable[..., Any], arguments: tuple[Any, ...]) -> Answer:
        return self._begun(_make, kind, arguments)

    def do(self, method: str, arguments: tuple[Any, ...]) -> Answer:
        return self._begun(_do, method, arguments)

    def renew(self) -> None:
        self.close()
        self._executor = _executor()

    def close(self) -> None:
        self._executor.shutdown(wait=True, cancel_futures=True)

    def _begun(self, task: Callable[..., Any], *arguments: Any) -> Answer:
        # cloudpickle can also send a family of curves that is defined in a notebook.
        try:
            begun = self._executor.submit(task, cloudpickle.dumps(arguments))
        except BrokenProcessPool as error:
            raise PlaceLost from error

        def answer() -> Any:
            try:
                return begun.result()
            except BrokenProcessPool as error:
                raise PlaceLost from error

        return answer


def _executor() -> ProcessPoolExecutor:
    return ProcessPoolExecutor(max_workers=1, mp_context=get_context("loky"))


def _make(sent: bytes) -> None:
    _holder.make(*cloudpickle.loads(sent))


def _do(sent: bytes) -> Any:
    return _holder.do(*cloudpickle.loads(sent))
