"""An hour in the life of a club: does the server's memory stay flat, and does anything go wrong?

    python -m tests.benchmarks.soak --minutes 60

serves the demo squad to twenty people who turn pages, twelve staff and eight athletes, while a
file is imported every two minutes and curves are updated by themselves. It reads the server's
metrics every minute. It prints a table in Markdown, and ends with status 1 if a page broke, an
answer or an import failed, or the store's check finds a fault.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import httpx2 as httpx
import numpy as np
import pandas as pd

from dashboard.app.demo import demo_store
from dashboard.screen.web_sessions import open_session
from dashboard.serving.gate import OWN_PATH, SESSION_COOKIE
from db.file.checks import check
from db.file.store import Store
from db.people.accounts import Person, add_person
from db.roster.athletes import list_athletes
from tests.benchmarks.markdown import table
from tests.benchmarks.page_crowd import Answers, crowd
from tests.dashboard.conftest import HASH
from tests.dashboard.live_server import WARMCURVE, free_port, quiet_environment, serving

__all__ = ["Hour", "soak"]

STAFF, ATHLETES = 12, 8
LOOK_SECONDS, IMPORT_EVERY = 60.0, 2
SHARE_BEFORE_FLAT = 1 / 3
"""Share of the time until caches, each with its own limit, have filled up."""

FIRST_START = datetime(2020, 1, 1, 10)


@dataclass
class Hour:
    """What was seen.

    Attributes
    ----------
    minutes, memory_mib : list of float
        When the server was asked, and the memory it had.
    answers : Answers
        Answers of the pages.
    own_seconds : list of float
        Seconds for each of the athletes' pages without script.
    imports, fits : int
    errors : list of str
        What went wrong.
    """

    minutes: list[float] = field(default_factory=list)
    memory_mib: list[float] = field(default_factory=list)
    answers: Answers = field(default_factory=lambda: Answers([]))
    own_seconds: list[float] = field(default_factory=list)
    imports: int = 0
    fits: int = 0
    errors: list[str] = field(default_factory=list)

    def figures(self) -> dict[str, object]:
        """Return what is printed."""
        memory, minutes = np.array(self.memory_mib), np.array(self.minutes)
        later = minutes >= SHARE_BEFORE_FLAT * minutes[-1]
        slope = float(np.polyfit(minutes[later], memory[later], 1)[0]) * 60.0
        half = len(self.answers.seconds) // 2
        early, late = (
            f"{np.percentile(part, 50):.2f} and {np.percentile(part, 95):.2f} s"
            for part in (self.answers.seconds[:half], self.answers.seconds[half:])
        )
        return {
            "minutes": f"{minutes[-1]:.0f}",
            "pages turned by staff": len(self.answers.seconds),
            "pages of athletes": len(self.own_seconds),
            "imports, fits": f"{self.imports}, {self.fits}",
            "memory at the start": f"{memory[0]:.0f} MiB",
            "after a third of the time": f"{memory[later][0]:.0f} MiB",
            "at the end": f"{memory[-1]:.0f} MiB",
            "largest": f"{memory.max():.0f} MiB",
            "growth an hour after a third of the time": f"{slope:+.0f} MiB",
            "a page of staff, median and 95th percentile, first half": early,
            "the same, second half": late,
            "a page of an athlete, 95th percentile": f"{np.percentile(self.own_seconds, 95):.2f} s",
            "errors": len(self.errors),
        }


def soak(folder: Path, minutes: float, pause_seconds: float) -> Hour:
    """Let people and imports work on a served demo, and take a look every minute.

    Parameters
    ----------
    folder : Path
        An empty folder for the store.
    minutes, pause_seconds : float
        How long, and how long each person looks at a page on average.
    """
    store = demo_store(folder / "demo.duckdb", lambda _: None)
    codes = list(list_athletes(store)["athlete"])
    staff = [
        Person(f"staff.{number}", f"Staff {number}", "coach", sees_all=True)
        if number % 3
        else Person(f"staff.{number}", f"Staff {number}", "director")
        for number in range(STAFF)
    ]
    athletes = [
        Person(f"own.{code.lower()}", f"Own {code}", "athlete", code) for code in codes[:ATHLETES]
    ]
    for person in (*staff, *athletes):
        add_person(store, person, HASH, by="test")
    tokens = [open_session(store, person) for person in staff]
    own = [open_session(store, person) for person in athletes]
    metrics_port, hour = free_port(), Hour()
    with (
        serving(
            store.path,
            "--metrics-port",
            str(metrics_port),
            WARMCURVE_FIT_AFTER="15",
        ) as server,
        ThreadPoolExecutor() as beside,
    ):
        turning = beside.submit(crowd, server.address, tokens, 60.0 * minutes, pause_seconds)
        metrics = f"http://127.0.0.1:{metrics_port}/metrics"
        _look_on(hour, minutes, metrics, server.address, own, store, codes)
        hour.answers = turning.result()
        hour.errors += ["A page broke."] * hour.answers.exceptions
        hour.errors += re.findall(r"^.*Traceback.*$", server.log.read_text(), re.MULTILINE)
    hour.errors += [str(problem) for problem in check(store)]
    return hour


def _look_on(
    hour: Hour,
    minutes: float,
    metrics: str,
    address: str,
    own: list[str],
    store: Store,
    codes: list[str],
) -> None:
    began, number = time.monotonic(), 0
    while True:
        told = httpx.get(metrics, timeout=60.0).text
        hour.minutes.append((time.monotonic() - began) / 60.0)
        hour.memory_mib.append(_number(told, "process_resident_memory_bytes") / 2**20)
        hour.fits = round(_number(told, 'warmcurve_events_total{event="fitted"}'))
        if broken := _number(told, 'warmcurve_requests_total{status="5xx"}'):
            hour.errors.append(f"{broken:.0f} answers said that something broke.")
        if hour.minutes[-1] >= minutes:
            return
        for token in own:
            cookie = {"Cookie": f"{SESSION_COOKIE}={token}"}
            started = time.perf_counter()
            answer = httpx.get(address + OWN_PATH, headers=cookie, timeout=60.0)
            hour.own_seconds.append(time.perf_counter() - started)
            if answer.status_code != httpx.codes.OK:
                hour.errors.append(f"An athlete's page answered {answer.status_code}.")
        if number % IMPORT_EVERY == 0:
            _import(hour, store, codes, number)
        number += 1
        next_look = began + LOOK_SECONDS * number
        time.sleep(max(0.0, min(next_look, began + 60.0 * minutes) - time.monotonic()))


def _number(told: str, name: str) -> float:
    """Return a number from the metrics, or 0 if it was never counted."""
    found = re.search(rf"^{re.escape(name)} (\S+)", told, re.MULTILINE)
    return float(found[1]) if found else 0.0


def _import(hour: Hour, store: Store, codes: list[str], number: int) -> None:
    """Import a session of ten efforts for each athlete, on a new day each time."""
    chance = np.random.default_rng(number)
    start = FIRST_START + timedelta(days=number)
    lines = ["athlete,started_at,measure,effort,value,volume_before"]
    for code in codes:
        for effort in range(10):
            value = 41.0 + chance.standard_normal()
            lines.append(
                f"{code},{start.isoformat()},jump_height,{effort + 1},{value:.1f},{effort}"
            )
    file = store.path.with_name(f"session-{number}.csv")
    file.write_text("\n".join(lines))
    done = subprocess.run(
        [*WARMCURVE, "import", str(file), "--db", str(store.path)],
        capture_output=True,
        text=True,
        env=quiet_environment(),
        check=False,
    )
    hour.imports += done.returncode == 0
    if done.returncode:
        hour.errors.append(done.stderr.strip())


def main() -> None:
    """Run it, and print the table; exit with status 1 if anything went wrong."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--pause", type=float, default=30.0, help="seconds at a page")
    asked = parser.parse_args()
    with TemporaryDirectory() as folder:
        hour = soak(Path(folder), asked.minutes, asked.pause)
    for line in hour.errors:
        print(line, file=sys.stderr)
    print(table(pd.DataFrame({"found": hour.figures()})))
    sys.exit(int(bool(hour.errors)))


if __name__ == "__main__":
    main()
