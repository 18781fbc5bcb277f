"""How long people wait for a page: one in Chromium on the demo squad, and twenty at once.

    python -m tests.benchmarks.pages --rounds 5 --people 20 --seconds 60

serves the demo and goes through all pages of the director in Chromium. Then it serves a squad of
60 with three seasons of data to many people at once: one in Chromium, who goes through all pages,
and the others without a browser (`page_crowd`), who each turn a page about every five seconds. A
page counts as turned when its script has run and its main content is drawn. It prints a table in
Markdown, and ends with status 1 if people wait longer than wanted.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
from playwright.sync_api import Browser

from dashboard.app.demo import demo_store
from dashboard.fits.fitting import fit_all
from dashboard.screen.menu import PLACES
from dashboard.screen.web_sessions import open_session
from dashboard.serving.gate import SESSION_COOKIE
from dashboard.sign_in.accounts import hash_password
from db.file.store import Store
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.people.accounts import Person, add_person, list_people
from db.roster.athletes import save_athletes
from db.roster.measures import get_measure, save_measure
from modeling.testing.simulation import Noise, Protocol, simulate_squad, simulated_truths
from tests.benchmarks.markdown import table
from tests.benchmarks.page_crowd import crowd
from tests.dashboard.live_server import LiveServer, serving
from tests.dashboard.screens import Screen, chromium, window

__all__ = ["main", "many_at_once", "one_in_chromium"]

ATHLETES, STANDARD = 60, 15.0
THREE_SEASONS = Protocol(fade_tests=6, routine_sessions=114, standard=STANDARD)
"""A session a week in 40 weeks of each of three years, with two fade tests a year."""

FIRST_WEEK = pd.Timestamp("2023-08-07T17:30")
SHAPE, SEED = "saturating less linear", 8
FIRST_WINDOWS = 6
PAUSE_SECONDS = 5.0
DIRECTOR = "director"
A_POINT, A_ROW = ".scatterlayer .point", "[data-place]"
DRAWN = {"Squad": A_POINT, "Athlete": A_POINT, "How sure": A_POINT, "Today": A_ROW}
"""The element that must be on the screen before a page counts as turned."""


@dataclass(frozen=True)
class Row:
    """The most seconds wanted (None where there is no limit), and the seconds found."""

    wanted: float | None
    found: float

    @property
    def met(self) -> str:
        """Say whether the seconds found are below the limit."""
        if self.wanted is None:
            return "-"
        return "yes" if self.found < self.wanted else "no"

    @property
    def cells(self) -> tuple[str, str, str]:
        """Return the cells wanted, found and met."""
        wanted = "-" if self.wanted is None else f"under {self.wanted:g} s"
        return wanted, f"{self.found:.2f} s", self.met


def season_store(path: Path, people: int) -> tuple[Store, list[str]]:
    """Make a store of a squad with three seasons, and a web session for each of some people.

    The first is a director; after that athletes and coaches alternate.
    """
    store = Store(path)
    store.create()
    rng = np.random.default_rng(SEED)
    rows = simulate_squad(simulated_truths(SHAPE, ATHLETES, rng), THREE_SEASONS, Noise(), rng)
    codes = list(rows["athlete"].unique())
    with store.kept_open():
        athletes = {"athlete": codes, "name": [f"Athlete Number{code[1:]}" for code in codes]}
        save_athletes(store, pd.DataFrame(athletes).assign(position="wing"), "benchmark")
        measure = get_measure(store, "jump_height")
        save_measure(store, replace(measure, standard_volume=STANDARD), "benchmark")
        csv = _efforts(rows).to_csv(index=False).encode()
        import_efforts(store, read_table(csv, "efforts.csv"), "benchmark")
        tokens = [_signed_in(store, number, codes) for number in range(people)]
    fit_all(store, "benchmark")
    return store, tokens


def _efforts(rows: pd.DataFrame) -> pd.DataFrame:
    """Turn simulated efforts into a file: a session a week, with fade tests spread over time."""
    sessions = rows.groupby("athlete")["session"].transform(lambda each: each.factorize()[0])
    count = THREE_SEASONS.fade_tests + THREE_SEASONS.routine_sessions
    week = (sessions * 37) % count
    return pd.DataFrame(
        {
            "athlete": rows["athlete"],
            "started_at": (FIRST_WEEK + pd.to_timedelta(7 * week, unit="D")).dt.strftime(
                "%Y-%m-%dT%H:%M"
            ),
            "measure": "jump_height",
            "effort": rows.groupby("session").cumcount() + 1,
            "value": rows["value"].round(2),
            "volume_before": rows["volume"],
            "kind": rows["kind"],
        }
    )


def _signed_in(store: Store, number: int, codes: list[str]) -> str:
    athlete = codes[number] if number % 2 else None
    role = "athlete" if athlete else "coach" if number else DIRECTOR
    person = Person(f"person.{number}", f"Person {number}", role, athlete, sees_all=role == "coach")
    add_person(store, person, hash_password("plain words for a test"), "benchmark")
    return open_session(store, person)


@contextmanager
def _looking(browser: Browser, server: LiveServer, token: str) -> Iterator[Screen]:
    with window(browser, server, "desktop") as seen:
        seen.page.context.add_cookies(
            [{"name": SESSION_COOKIE, "value": token, "url": server.address}]
        )
        yield seen


def first_renders(browser: Browser, server: LiveServer, token: str) -> pd.DataFrame:
    """Open the squad's page in one new browser window after another.

    A new window has nothing of the dashboard in its cache. The very first is left out, because
    the server has drawn nothing yet by then.

    Returns
    -------
    DataFrame
        A row per window: seconds until all `words` are there, and until the figure is `drawn`.
    """
    return pd.DataFrame([_first_render(browser, server, token) for _ in range(FIRST_WINDOWS)][1:])


def _first_render(browser: Browser, server: LiveServer, token: str) -> dict[str, float]:
    with _looking(browser, server, token) as seen:
        started = time.perf_counter()
        seen.open("")
        seen.page.locator("h1").wait_for()
        words = time.perf_counter() - started
        seen.page.locator(A_POINT).first.wait_for()
        return {"words": words, "drawn": time.perf_counter() - started}


def page_changes(
    browser: Browser, server: LiveServer, token: str, go_on: Iterable[object]
) -> pd.DataFrame:
    """Go through all the director's pages once for each of `go_on`; seconds, a column a page."""
    titles = [place.title for place in PLACES if DIRECTOR in place.roles]
    with _looking(browser, server, token) as seen:
        seen.open("")
        for title in titles:
            seen.turn_to(title, title)
        rounds = [
            {title: seen.turn_to(title, title, DRAWN.get(title)) for title in titles} for _ in go_on
        ]
    return pd.DataFrame(rounds)


def one_in_chromium(browser: Browser, folder: Path, rounds: int) -> dict[str, Row]:
    """Measure the demo with one director."""
    store = demo_store(folder / "demo.duckdb", lambda sentence: None)
    fit_all(store, "benchmark")
    token = open_session(store, next(each for each in list_people(store) if each.role == DIRECTOR))
    with serving(store.path) as server:
        first = first_renders(browser, server, token)
        changes = page_changes(browser, server, token, range(rounds))
    print(changes.median().sort_values().round(2).to_string(), file=sys.stderr)
    return {
        f"first render, demo, {len(first)} new windows, longest": Row(2.0, first["words"].max()),
        "the same, until the figure is drawn as well": Row(None, first["drawn"].max()),
        f"page change, demo, {changes.size} changes, 95th percentile": Row(0.5, _slow(changes)),
    }


def many_at_once(browser: Browser, folder: Path, people: int, seconds: float) -> dict[str, Row]:
    """Measure a squad of 60 with many people at once."""
    store, tokens = season_store(folder / "seasons.duckdb", people)
    with serving(store.path) as server, ProcessPoolExecutor(1, get_context("spawn")) as beside:
        others = beside.submit(crowd, server.address, tokens[1:], seconds, PAUSE_SECONDS)
        changes = page_changes(browser, server, tokens[0], iter(lambda: others.done(), True))
        answers = others.result()
    # The last round goes on after the other people have stopped.
    changes = changes.iloc[: max(1, len(changes) - 1)]
    if answers.exceptions:
        raise RuntimeError(f"{answers.exceptions} pages showed an exception.")
    what = f"{people} people at once, {ATHLETES} athletes, three seasons"
    return {
        f"{what}: the one in Chromium, {changes.size} changes, 95th percentile": Row(
            1.0, _slow(changes)
        ),
        f"{what}: answers to the others, {len(answers.seconds)}, 95th percentile": Row(
            1.0, _slow(answers.seconds)
        ),
    }


def _slow(seconds: pd.DataFrame | list[float]) -> float:
    return float(np.percentile(seconds, 95))


def main() -> None:
    """Measure and print the table; exit with status 1 if anything takes longer than wanted."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=5, help="how often each page is turned to")
    parser.add_argument("--people", type=int, default=20, help="at once, one of them in Chromium")
    parser.add_argument("--seconds", type=float, default=60.0, help="that the others turn pages")
    asked = parser.parse_args()
    with TemporaryDirectory() as name, chromium() as browser:
        folder = Path(name)
        rows = one_in_chromium(browser, folder, asked.rounds)
        rows |= many_at_once(browser, folder, asked.people, asked.seconds)
    cells = {what: row.cells for what, row in rows.items()}
    found = pd.DataFrame.from_dict(cells, orient="index", columns=["wanted", "found", "met"])
    print(table(found))
    sys.exit(int(not all(row.met != "no" for row in rows.values())))


if __name__ == "__main__":
    main()
