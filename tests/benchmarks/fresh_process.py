"""Runs a task in its own process, to measure its memory alone."""

from __future__ import annotations

import multiprocessing
import resource
import sys
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from typing import Any

__all__ = ["Measured", "in_fresh_process", "peak_mib"]


@dataclass(frozen=True)
class Measured:
    """What a task returned and the most memory it held, in MiB."""

    value: Any
    peak_mib: float


def in_fresh_process(task: Callable[..., Any], *arguments: Any) -> Measured:
    """Run `task(*arguments)` in a new interpreter; task and arguments must be picklable."""
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(max_workers=1, mp_context=context) as pool:
        return pool.submit(_measured, task, arguments).result()


def peak_mib() -> float:
    """Return the most memory that this process or a child of it has held so far."""
    who = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    peak = max(resource.getrusage(each).ru_maxrss for each in who)
    return peak / (2**20 if sys.platform == "darwin" else 2**10)


def _measured(task: Callable[..., Any], arguments: tuple[Any, ...]) -> Measured:
    return Measured(task(*arguments), peak_mib())
