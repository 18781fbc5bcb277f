"""The same fit, in this process, in others and on a cluster; and with a worker killed."""

from __future__ import annotations

import os
import pickle
import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import numpy as np
import pandas as pd
import pytest
from distributed import LocalCluster

from modeling import ModelError, ResponseModel
from modeling.compute import cluster as cluster_of_dask
from modeling.compute.cluster import Cluster
from modeling.compute.places import Compute, Here, Parts, Place, PlaceLost, ThisProcess
from modeling.compute.processes import Processes
from modeling.curve.account import Account
from modeling.errors import AthleteError
from modeling.fit import engine
from modeling.testing.simulation import (
    Noise,
    Protocol,
    Surroundings,
    simulate_squad,
    simulated_truths,
)
from tests.benchmarks.account import drawn_circumstances

ATHLETES = 9


@pytest.fixture(scope="module")
def squad() -> pd.DataFrame:
    """A squad in varied circumstances, so that an account is learned and grids move."""
    rng = np.random.default_rng(8)
    truths = simulated_truths("Ricker", ATHLETES, rng)
    around = Surroundings(Account(0.6, 15.0, 0.02, 0.0), drawn_circumstances)
    return simulate_squad(truths, Protocol(1, 4), Noise(), rng, around)


@pytest.fixture(scope="module", autouse=True)
def few_are_tried() -> Iterator[None]:
    """Do the first rounds with only some athletes, as in a large squad."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(engine, "TRIAL_ATHLETES", 5)
        yield


def fitted(squad: pd.DataFrame, compute: Compute | None, **more: Any) -> ResponseModel:
    return ResponseModel(rounds=3, compute=compute).fit(squad, squad["value"], **more)


def numbers(model: ResponseModel) -> np.ndarray:
    responses = [
        [r.best_volume.low, r.gain_pct.median, r.chance_short, *r.session_peaks.values()]
        for r in model.responses_.values()
    ]
    learned, told = model.fit_.learned, model.squad_
    squad = [
        *learned.across.mean,
        *learned.shared.value,
        *learned.form_weight,
        learned.noise.effort,
        told.spread_log_sd.median,
        told.chance_athletes_differ,
        told.worth_of_individual_pct.median,
        *told.curve.change_pct,
    ]
    posteriors = [each.draws.best.mean() for each in model.fit_.posteriors]
    return np.concatenate([*responses, squad, posteriors])


@pytest.fixture(scope="module")
def alone(squad: pd.DataFrame) -> np.ndarray:
    return numbers(fitted(squad, None))


@pytest.fixture(scope="module")
def cluster() -> Iterator[LocalCluster]:
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=":0") as started:
        yield started


@pytest.mark.parametrize("parts", [2, 4, ATHLETES + 1])
def test_parts_of_this_process_give_the_same_numbers(
    squad: pd.DataFrame, alone: np.ndarray, parts: int
) -> None:
    np.testing.assert_allclose(numbers(fitted(squad, ThisProcess(parts))), alone, rtol=1e-9)


def test_processes_and_a_cluster_give_the_same_numbers(
    squad: pd.DataFrame, alone: np.ndarray, cluster: LocalCluster
) -> None:
    for compute in (Processes(2), Cluster(cluster.scheduler_address)):
        np.testing.assert_allclose(numbers(fitted(squad, compute)), alone, rtol=1e-9)


def killing(places: list[int]) -> Callable[[float], None]:
    """Kill a worker as soon as half of the fit is done."""

    def tell(share: float) -> None:
        if share > 0.5 and places:
            os.kill(places.pop(), signal.SIGKILL)

    return tell


class Watched:
    """Opens the places of another `Compute`, and finds out which processes they are."""

    def __init__(self, compute: Compute) -> None:
        self._compute, self.processes = compute, list[int]()

    @contextmanager
    def places(self) -> Iterator[Sequence[Place]]:
        with self._compute.places() as places:
            asked = Parts(places, Process, [()] * len(places))
            self.processes += asked.ask("number")
            yield places


class Process:
    def number(self) -> int:
        return os.getpid()


@pytest.mark.parametrize("which", ["processes", "cluster"])
def test_a_worker_killed_in_mid_fit_changes_no_digit(
    squad: pd.DataFrame, alone: np.ndarray, cluster: LocalCluster, which: str
) -> None:
    compute = Processes(2) if which == "processes" else Cluster(cluster.scheduler_address)
    watched = Watched(compute)
    model = fitted(squad, watched, progress=killing(watched.processes))
    assert len(watched.processes) == 1  # one of two was killed
    np.testing.assert_allclose(numbers(model), alone, rtol=1e-9)


def test_a_scheduler_that_ends_in_mid_fit_gets_a_sentence(
    squad: pd.DataFrame, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster_of_dask, "ANSWERS_WITHIN_SECONDS", 2.0)
    alone = {"n_workers": 1, "processes": False, "protocol": "tcp", "dashboard_address": ":0"}
    with LocalCluster(**alone) as ending:

        def tell(share: float) -> None:
            if share > 0.5:
                ending.close()

        lost = f"The scheduler {ending.scheduler_address} is lost: it ended, or is out of reach."
        with pytest.raises(ModelError, match=lost):
            fitted(squad, Cluster(ending.scheduler_address), progress=tell)


class Lost(Here):
    """A place that is lost the first `times` times it is asked something."""

    def __init__(self, times: int) -> None:
        super().__init__()
        self.times, self.made = times, 0

    def make(self, kind: Callable[..., Any], arguments: tuple[Any, ...]) -> Callable[[], Any]:
        self.made += 1
        return super().make(kind, arguments)

    def do(self, method: str, arguments: tuple[Any, ...]) -> Callable[[], Any]:
        if method == "ask" and self.times:
            self.times -= 1
            raise PlaceLost
        return super().do(method, arguments)


class Counter:
    def __init__(self, start: int) -> None:
        self.count = start

    def add(self, more: int) -> int:
        self.count += more
        return self.count

    def ask(self) -> int:
        return self.count


def test_a_lost_part_is_made_again_and_told_everything_again() -> None:
    lost, other = Lost(2), Lost(0)
    parts = Parts([lost, other], Counter, [(10,), (20,)])
    assert parts.change("add", 1) == [11, 21]
    assert parts.change("add", 2) == [13, 23]
    assert parts.ask("ask") == [13, 23]
    assert (lost.made, other.made) == (3, 1)


def test_a_worker_that_is_lost_again_and_again_gets_a_sentence() -> None:
    parts = Parts([Lost(9)], Counter, [(10,)])
    with pytest.raises(ModelError, match="A worker was lost 3 times over the same task"):
        parts.ask("ask")


def test_an_athlete_who_cannot_be_fitted_is_named_across_processes() -> None:
    error = pickle.loads(pickle.dumps(AthleteError("A03")))
    assert error.athlete == "A03" and str(error) == str(AthleteError("A03"))


def test_a_scheduler_that_does_not_answer_gets_a_sentence(
    squad: pd.DataFrame, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("modeling.compute.cluster.ANSWERS_WITHIN_SECONDS", 0.5)
    with pytest.raises(ModelError, match="No scheduler answers at tcp://127.0.0.1:9"):
        fitted(squad, Cluster("tcp://127.0.0.1:9"))
