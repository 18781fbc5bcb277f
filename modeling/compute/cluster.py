"""Machines of a Dask cluster that hold parts of a squad.

Each part is pinned to a worker, and its tasks may run nowhere else. A task whose worker is gone
would wait for it forever, so we check now and then whether the worker is still there.

`distributed` comes with ``pip install 'warmcurve[scale]'``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import count
from typing import Any
from uuid import uuid4

import cloudpickle

from modeling.compute.places import Answer, Holder, Place, PlaceLost
from modeling.errors import ModelError

__all__ = ["Cluster"]

LOOKED_AFTER_SECONDS = 5.0
"""Time between two checks that a worker is still there."""

ANSWERS_WITHIN_SECONDS = 20.0
"""Time that a scheduler has for its first answer."""

_held: dict[str, Holder] = {}
"""On a worker: what it holds, by the number of the place."""


@dataclass(frozen=True)
class Cluster:
    """Athletes divided among the workers of a Dask scheduler.

    Parameters
    ----------
    address : str
        Address of the scheduler, such as ``tcp://10.0.0.5:8786``.

    Notes
    -----
    Units: none.
    Missing values: none.
    Errors: those of `places`, when a fit begins.
    Source: `distributed`, the scheduler of Dask; tasks pinned to workers.
    """

    address: str

    @contextmanager
    def places(self) -> Iterator[Sequence[Place]]:
        """Open a place on each worker that the scheduler has now, for as long as a fit lasts.

        Returns
        -------
        context manager
            Gives the places.

        Raises
        ------
        ModelError
            `distributed` is not installed, or the scheduler does not answer, has no workers, or is
            lost during the fit.
        """
        with _client(self.address) as client:
            workers = _workers(client)
            if not workers:
                raise ModelError(
                    f"The scheduler {self.address} has no workers. Start some, with"
                    f" dask worker {self.address}, and fit again."
                )
            turns = count()
            places = [_Worker(client, turns) for _ in workers]
            try:
                yield places
            except BaseException as error:
                if client.status == "running" or isinstance(error, KeyboardInterrupt):
                    raise
                raise ModelError(
                    f"The scheduler {self.address} is lost: it ended, or is out of reach. This"
                    " fit is not saved. Start it again with its workers, and fit again."
                ) from error
            finally:
                if client.status == "running":
                    for each in places:
                        each.close()


def _client(address: str) -> Any:
    try:
        from distributed import Client
    except ImportError as error:
        raise ModelError(
            "A scheduler needs Dask, which is not installed."
            " Install it: pip install 'warmcurve[scale]'."
        ) from error
    connect: Any = Client
    try:
        return connect(address, timeout=ANSWERS_WITHIN_SECONDS, set_as_default=False)
    except (OSError, ValueError) as error:
        raise ModelError(
            f"No scheduler answers at {address}. Write it as tcp://host:8786, and see that it runs."
        ) from error


def _workers(client: Any) -> list[str]:
    """Give the addresses of a scheduler's workers, always in the same order."""
    return sorted(client.scheduler_info(n_workers=-1)["workers"])


class _Worker:
    """A place on a worker of the cluster."""

    def __init__(self, client: Any, turns: Iterator[int]) -> None:
        self._client, self._turns = client, turns
        self._number = uuid4().hex
        self.renew()

    def renew(self) -> None:
        workers = _workers(self._client)
        if not workers:
            raise PlaceLost
        self._address = workers[next(self._turns) % len(workers)]

    def make(self, kind: Callable[..., Any], arguments: tuple[Any, ...]) -> Answer:
        # Rows may be large, so send them straight to the worker and not with the task.
        sent = self._client.scatter(
            cloudpickle.dumps((kind, arguments)), workers=[self._address], hash=False
        )
        return self._begun(_make, sent)

    def do(self, method: str, arguments: tuple[Any, ...]) -> Answer:
        return self._begun(_do, cloudpickle.dumps((method, arguments)))

    def close(self) -> None:
        if self._address in _workers(self._client):
            self._begun(_drop)()

    def _begun(self, task: Callable[..., Any], *sent: Any) -> Answer:
        begun = self._client.submit(
            task, self._number, *sent, workers=[self._address], pure=False, retries=0
        )

        def answer() -> Any:
            while True:
                try:
                    return begun.result(timeout=LOOKED_AFTER_SECONDS)
                except TimeoutError:
                    if self._address not in _workers(self._client):
                        begun.cancel()
                        raise PlaceLost from None

        return answer


def _make(number: str, sent: bytes) -> None:
    holder = _held.setdefault(number, Holder())
    holder.make(*cloudpickle.loads(sent))


def _do(number: str, sent: bytes) -> Any:
    return _held[number].do(*cloudpickle.loads(sent))


def _drop(number: str) -> None:
    _held.pop(number, None)
