"""What a fit gains from more workers: seconds, memory, and what is sent.

    python -m tests.benchmarks.fits_over_machines

prints tables in Markdown: one process against two at 5,000 athletes, growth from 100 to 10,000
athletes with two, and the time with more workers as worked out on paper. Every fit runs in its own
process, one at a time. CPU seconds are shown beside clock seconds: on a machine that does other
work only CPU seconds are fair. "At best" is what the clock would show without other work: the CPU
seconds of the fit's own process and of the busiest worker.
"""

from __future__ import annotations

import argparse
import os
import pickle
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter, process_time
from typing import Any

import cloudpickle
import numpy as np
import pandas as pd

from modeling import ResponseModel
from modeling.compute.places import Answer, Compute, Parts, Place, ThisProcess
from modeling.compute.processes import Processes
from tests.benchmarks.fresh_process import in_fresh_process
from tests.benchmarks.markdown import table
from tests.benchmarks.speed import mixed_squad
from tests.benchmarks.squads import STANDARD

__all__ = ["Fitted", "fitted", "main"]

OUTSIDE_ROUNDS = {"make", "finish", "session_moments", "of_each", "sum_of_each", "whole"}
"""Questions asked once for each fit, which may grow with its athletes."""

ON_PAPER = (16, 64, 256)
DASK_SECONDS = 0.0155
"""Time for one question to the workers of a Dask scheduler on this machine, and its answer."""


@dataclass(frozen=True)
class Fitted:
    """One fit as it was measured.

    `busy` and `own` are CPU seconds of each worker and of the fit's own process, without imports.
    `questions` is how many each worker was asked in the whole fit; `sent` and `received` are bytes
    of a worker in a round.
    """

    athletes: int
    efforts: int
    seconds: float
    own: float
    busy: tuple[float, ...]
    own_mib: float
    worker_mib: float
    questions: int
    sent: float
    received: float

    @property
    def at_best(self) -> float:
        return self.own + max(self.busy, default=0.0)

    def line(self) -> dict[str, float | str]:
        return {
            "seconds": self.seconds,
            "processor seconds": self.own + sum(self.busy),
            "at best": self.at_best,
            "MiB": f"{self.own_mib:.0f}",
            "MiB a worker": f"{self.worker_mib:.0f}" if self.busy else "-",
            "kB sent to a worker in a round": f"{self.sent / 1000:.1f}" if self.busy else "-",
            "kB back": f"{self.received / 1000:.1f}" if self.busy else "-",
        }


class Resources:
    """A part that reports the CPU time and memory of its process."""

    def used(self) -> tuple[float, float]:
        return process_time(), own_peak_mib()


class Counted:
    """A place that counts its questions and bytes."""

    def __init__(self, place: Place, told: Counter[str]) -> None:
        self._place, self._told = place, told

    def make(self, kind: Callable[..., Any], arguments: tuple[Any, ...]) -> Answer:
        return self._place.make(kind, arguments)

    def renew(self) -> None:
        self._place.renew()

    def do(self, method: str, arguments: tuple[Any, ...]) -> Answer:
        answer = self._place.do(method, arguments)
        if method in OUTSIDE_ROUNDS:
            return answer
        self._told["sent"] += len(cloudpickle.dumps((method, arguments)))
        self._told["questions"] += 1
        self._told["rounds"] += method == "expect"

        def counted() -> Any:
            found = answer()
            self._told["received"] += len(pickle.dumps(found))
            return found

        return counted


class Watched:
    """Opens the places of another `Compute`, and finds out what is sent, received and used."""

    def __init__(self, compute: Compute) -> None:
        self._compute = compute
        self.told = Counter[str]()
        self.used: list[tuple[float, float]] = []

    @contextmanager
    def places(self) -> Iterator[Sequence[Place]]:
        with self._compute.places() as places:
            before = [seconds for seconds, _ in self._used(places)]
            yield [Counted(each, self.told) for each in places]
            after = zip(before, self._used(places), strict=True)
            self.used = [(seconds - began, mib) for began, (seconds, mib) in after]

    @staticmethod
    def _used(places: Sequence[Place]) -> list[tuple[float, float]]:
        return Parts(places, Resources, [()] * len(places)).ask("used")


def own_peak_mib() -> float:
    """Return the most memory that this process has held since it began, as Linux reports it."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM")) / 1024.0


def fitted(file: str, workers: int) -> Fitted:
    """Fit the squad in a file with some worker processes; 0 means in this process alone."""
    frame = pd.read_parquet(file)
    watched = Watched(Processes(workers)) if workers else None
    model = ResponseModel(standard_volume=STANDARD, compute=watched or ThisProcess())
    began, began_own = perf_counter(), process_time()
    model.fit(frame, frame["value"])
    seconds, own = perf_counter() - began, process_time() - began_own
    told = watched.told if watched else Counter[str]()
    used = watched.used if watched else []
    rounds = max(told["rounds"], 1)
    return Fitted(
        athletes=len(model.responses_),
        efforts=len(frame),
        seconds=seconds,
        own=own,
        busy=tuple(busy for busy, _ in used),
        own_mib=own_peak_mib(),
        worker_mib=max((mib for _, mib in used), default=0.0),
        questions=told["questions"] // max(workers, 1),
        sent=told["sent"] / rounds,
        received=told["received"] / rounds,
    )


def on_paper(measured: Sequence[Fitted], workers: int, athletes: int) -> dict[str, float]:
    """Extrapolate the seconds with more workers, from the parts of fits with two.

    A worker's work grows with its athletes, and the work of the fit's own process grows with all
    of them (laying out and sending rows, answers). Each question takes the scheduler's time once,
    and reading the answers takes time for each worker.
    """
    sizes = np.array([each.athletes for each in measured], float)
    busy_each, busy_fixed = np.polyfit(sizes, [sum(each.busy) for each in measured], 1)
    own_each, own_fixed = np.polyfit(sizes, [each.own for each in measured], 1)
    questions = float(np.mean([each.questions for each in measured]))
    parts = {
        "workers' part": (busy_each * athletes + max(busy_fixed, 0.0)) / workers,
        "own part": own_each * athletes + max(own_fixed, 0.0),
        "questions": questions * DASK_SECONDS * (1.0 + workers / 64.0),
    }
    return parts | {"seconds": sum(parts.values())}


def main() -> None:
    """Time fits, and print the tables."""
    # Import them by name, so that other processes can find them.
    from tests.benchmarks.fits_over_machines import fitted, simulated

    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sizes", nargs="+", type=int, default=[100, 300, 1000, 3000, 10_000])
    parser.add_argument("--against", type=int, default=5000, help="athletes of one against two")
    parser.add_argument("--repeats", type=int, default=3, help="fits of each; the quickest is told")
    parser.add_argument("--folder", type=Path, default=Path("."), help="where squads are kept")
    asked = parser.parse_args()

    def best(athletes: int, workers: int) -> Fitted:
        file = asked.folder / f"mixed {athletes}.parquet"
        if not file.exists():
            in_fresh_process(simulated, athletes, str(file))
        found = [in_fresh_process(fitted, str(file), workers).value for _ in range(asked.repeats)]
        return min(found, key=lambda each: each.at_best)

    one, two = best(asked.against, 0), best(asked.against, 2)
    lines = {f"{asked.against:,} athletes, one process": one.line(), "the same, two": two.line()}
    print(table(pd.DataFrame.from_dict(lines, orient="index")))
    print(
        f"\nTwo are {one.seconds / two.seconds:.2f} times as quick by the clock,"
        f" {one.at_best / two.at_best:.2f} times at best.\n"
    )
    measured = [best(athletes, 2) for athletes in asked.sizes]
    lines = {f"{f.athletes:,} athletes, {f.efforts:,} efforts": f.line() for f in measured}
    print(table(pd.DataFrame.from_dict(lines, orient="index")))
    paper = {
        f"{athletes:,} athletes, {workers} workers": on_paper(measured, workers, athletes)
        for athletes in (10_000, 100_000)
        for workers in ON_PAPER
    }
    print("\n" + table(pd.DataFrame.from_dict(paper, orient="index")))
    print(f"\n{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} at the end.")


def simulated(athletes: int, file: str) -> None:
    """Simulate a squad, and save it in a file."""
    mixed_squad(athletes).to_parquet(file)


if __name__ == "__main__":
    main()
