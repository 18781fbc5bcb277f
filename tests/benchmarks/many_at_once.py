"""What happens to entries when many coaches type while a nightly import and a fit run.

    python -m tests.benchmarks.many_at_once --browsers 20 --seconds 60

serves a squad's store and opens that many browser windows (real Chromium, each with its own coach)
on the page Enter efforts. They enter sessions one after another, while one process imports files
and another fits, again and again. Then it looks for every session that a page said was stored. It
prints a table in Markdown, and ends with status 1 if anything was lost, doubled or changed, if a
page showed an error, if a command failed, or if the store's check finds a fault.
"""

from __future__ import annotations

import argparse
import asyncio
import random
import shutil
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import pandas as pd
from playwright.async_api import Browser, Page, ViewportSize, async_playwright
from playwright.async_api import TimeoutError as TooLate

from dashboard.screen.web_sessions import open_session
from dashboard.serving.gate import SESSION_COOKIE
from db.file.checks import check
from db.file.frames import fetch, fetch_number
from db.file.store import Store
from db.people.accounts import Person, add_person
from tests.benchmarks.markdown import table
from tests.dashboard import artificial
from tests.dashboard.conftest import HASH, fill, new_store
from tests.dashboard.live_server import WARMCURVE, quiet_environment, serving
from tests.dashboard.screens import BROWSER_WORDS, PATIENCE_MS, RUN_IS_OVER

__all__ = ["Seen", "many_at_once"]

FIRST_DAY = date(2020, 1, 1)
SESSION_EFFORTS = 3
OPENING_AT_ONCE = 4
WINDOW: ViewportSize = {"width": 500, "height": 400}
SHORT_PATIENCE_MS = 3_000
LONGEST_PAUSE_SECONDS = 10.0
IMPORT_EVERY_SECONDS, FIT_EVERY_SECONDS = 8.0, 20.0
SAID = "[data-testid=stAlertContentSuccess], [data-testid=stAlertContentError]"
TROUBLE = "[data-testid=stAlertContentError], [data-testid=stException]"
COUNT_NOTICES = """
window.notices = 0;
new MutationObserver(changes => {
  for (const change of changes) for (const node of change.addedNodes)
    if (node.querySelector && (node.matches('[data-testid=stToast]')
        || node.querySelector('[data-testid=stToast]'))) window.notices += 1;
}).observe(document, {childList: true, subtree: true});
"""

Entry = tuple[str, date, tuple[float, ...]]


@dataclass
class Seen:
    """What the browsers, the commands and the store showed.

    Attributes
    ----------
    acknowledged : list of Entry
        Sessions that a page said were stored: athlete, day, values.
    waits : list of float
        Seconds from each click on the button until the page said so.
    notices : int
        How often a page said that it waits.
    errors : list of str
        Errors on pages.
    imports, fits : int
        Commands that succeeded.
    failed : list of str
        Messages of commands that failed.
    rows_imported : int
        Rows of the files that were imported.
    command_seconds : list of float
        How long each command took.
    commands_waited : int
        Commands that said that they wait.
    lost, doubled, problems : int
        Sessions and rows that are missing; those that are there twice, or without anybody having
        been told; faults that the check finds.
    """

    acknowledged: list[Entry] = field(default_factory=list)
    waits: list[float] = field(default_factory=list)
    notices: int = 0
    errors: list[str] = field(default_factory=list)
    imports: int = 0
    fits: int = 0
    rows_imported: int = 0
    command_seconds: list[float] = field(default_factory=list)
    commands_waited: int = 0
    failed: list[str] = field(default_factory=list)
    lost: int = 0
    doubled: int = 0
    problems: int = 0

    @property
    def bad(self) -> int:
        """Count everything that must not happen."""
        faults = self.lost + self.doubled + self.problems
        return faults + len(self.errors) + len(self.failed)


def many_at_once(folder: Path, browsers: int, seconds: float, file_rows: int) -> Seen:
    """Let browsers, imports and fits work on one store for a time, and look at what it holds.

    Parameters
    ----------
    folder : Path
        An empty folder for the store.
    browsers, seconds : int, float
        How many windows, and how long they enter sessions.
    file_rows : int
        Rows of each file that is imported.
    """
    store = new_store(folder / "squad.duckdb")
    athletes = artificial.many(max(browsers, len(artificial.ATHLETES)))
    fill(store, athletes=athletes)
    names = {code: name for code, (name, *_) in list(athletes.items())[:browsers]}
    tokens = {}
    for code in names:
        coach = Person(f"coach.{code.lower()}", f"Coach {code}", "coach", sees_all=True)
        add_person(store, coach, HASH, by="test")
        tokens[code] = open_session(store, coach)
    seen = Seen()
    with serving(store.path) as server:
        asyncio.run(_all_at_once(seen, server.address, names, tokens, store, seconds, file_rows))
        log = server.log.read_text()
    seen.errors += ["The server's log has a traceback."] * ("Traceback" in log)
    _look(seen, store)
    return seen


async def _all_at_once(
    seen: Seen,
    address: str,
    names: dict[str, str],
    tokens: dict[str, str],
    store: Store,
    seconds: float,
    file_rows: int,
) -> None:
    async with async_playwright() as playwright:
        chromium = await playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=BROWSER_WORDS
        )
        turn = asyncio.Semaphore(OPENING_AT_ONCE)
        opened = [_opened(chromium, address, tokens[code], turn) for code in names]
        pages = dict(zip(names, await asyncio.gather(*opened), strict=True))
        until = time.monotonic() + seconds
        await asyncio.gather(
            *(_enter(seen, pages[code], code, names[code], seconds, until) for code in names),
            asyncio.to_thread(_import_again_and_again, seen, store, list(names), until, file_rows),
            asyncio.to_thread(_fit_again_and_again, seen, store, until),
        )
        for page in pages.values():
            seen.notices += await page.evaluate("window.notices")
        await chromium.close()


async def _opened(chromium: Browser, address: str, token: str, turn: asyncio.Semaphore) -> Page:
    # Twenty spinning signs of pages at work would take CPU time away from the work itself.
    context = await chromium.new_context(reduced_motion="reduce", viewport=WINDOW, locale="en-GB")
    await context.add_cookies([{"name": SESSION_COOKIE, "value": token, "url": address}])
    page = await context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    await page.add_init_script(COUNT_NOTICES)
    async with turn:
        await _open_form(page, f"{address}/enter-efforts")
    return page


async def _open_form(page: Page, address: str) -> None:
    await page.goto(address)
    await page.get_by_role("button", name="Save this session").wait_for()
    await page.wait_for_function(RUN_IS_OVER)


async def _enter(
    seen: Seen, page: Page, code: str, name: str, seconds: float, until: float
) -> None:
    """Enter sessions as a coach does, each on its own day and with its own values."""
    page.on("pageerror", lambda error: seen.errors.append(str(error)))
    chance, number = random.Random(code), 0
    while number == 0 or time.monotonic() < until:
        await asyncio.sleep(chance.uniform(0, min(LONGEST_PAUSE_SECONDS, seconds / 5)))
        number += 1
        day = FIRST_DAY + timedelta(days=number)
        values = tuple(
            round(38 + number / 100 + effort / 10, 2) for effort in range(SESSION_EFFORTS)
        )
        try:
            said, waited = await _entered(page, name, day, values)
        except Exception as error:  # what the driver could not do, a coach could not do either
            seen.errors.append(f"{code}: {error}")
            return
        seen.waits.append(waited)
        if said.startswith(f"Stored for {name}: {SESSION_EFFORTS} efforts") and (
            _as_said(day) in said
        ):
            seen.acknowledged.append((code, day, values))
        else:
            seen.errors.append(f"{code}: {said}")
            await _open_form(page, page.url)  # or this message might be taken for the next answer


async def _entered(page: Page, name: str, day: date, values: Sequence[float]) -> tuple[str, float]:
    """Type a session and click; return what the page said, and after how many seconds."""
    await _chosen(page, name)
    await page.locator("[data-testid=stDateInput] input").fill(day.isoformat())
    await page.keyboard.press("Enter")
    typed = " ".join(f"{value:g}" for value in values)
    await page.get_by_role("textbox", name="Values in").fill(typed)
    await page.get_by_role("textbox", name="done before the first").fill("5")
    started = time.perf_counter()
    await page.get_by_role("button", name="Save this session").click()
    told = page.locator(SAID, has_text=_as_said(day)).or_(page.locator(TROUBLE))
    await told.first.wait_for()
    waited = time.perf_counter() - started
    said = (await told.first.inner_text()).replace("\u00a0", " ")
    await page.wait_for_function(RUN_IS_OVER)
    return said, waited


def _as_said(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


async def _chosen(page: Page, name: str) -> None:
    """Choose the athlete, trying again: a list opened while the page is drawn closes again."""
    box = page.get_by_role("combobox", name="Athlete")
    option = page.get_by_role("option", name=name, exact=True)
    until = time.monotonic() + PATIENCE_MS / 1000
    while await box.input_value() != name and time.monotonic() < until:
        try:
            await box.click()
            await box.fill(name)
            await option.click(timeout=SHORT_PATIENCE_MS)
        except TooLate:
            continue


def _import_again_and_again(
    seen: Seen, store: Store, codes: list[str], until: float, rows: int
) -> None:
    for number in _every(IMPORT_EVERY_SECONDS, until):
        file = store.path.with_name(f"night-{number}.csv")
        file.write_text(_file(codes, number, rows))
        done = _command(seen, "import", str(file), store=store)
        seen.imports += done
        seen.rows_imported += rows * done


def _fit_again_and_again(seen: Seen, store: Store, until: float) -> None:
    for _ in _every(FIT_EVERY_SECONDS, until):
        seen.fits += _command(seen, "fit", "--measure", "jump_height", store=store)


def _every(seconds: float, until: float) -> Iterator[int]:
    """Yield 0, 1, 2 ... until the time is up, at most one every `seconds`."""
    number = 0
    while (started := time.monotonic()) < until or number == 0:
        yield number
        number += 1
        time.sleep(max(0.0, min(started + seconds, until) - time.monotonic()))


def _command(seen: Seen, *words: str, store: Store) -> bool:
    started = time.perf_counter()
    done = subprocess.run(
        [*WARMCURVE, *words, "--db", str(store.path)],
        capture_output=True,
        text=True,
        env=quiet_environment(),
        check=False,
    )
    seen.command_seconds.append(time.perf_counter() - started)
    seen.commands_waited += "waits for it" in done.stderr
    if done.returncode:
        seen.failed.append(f"{words[0]}: {done.stderr.strip()}")
    return done.returncode == 0


def _file(codes: Sequence[str], number: int, rows: int) -> str:
    """Write the efforts of one night's file, on a day for which nobody types."""
    start = datetime.combine(FIRST_DAY - timedelta(days=number + 1), datetime.min.time())
    lines = ["athlete,started_at,measure,effort,value,volume_before"]
    for row in range(rows):
        session, effort = divmod(row, 10)
        at = start + timedelta(minutes=session // len(codes))
        code = codes[session % len(codes)]
        lines.append(f"{code},{at.isoformat()},jump_height,{effort + 1},41.5,{effort}")
    return "\n".join(lines)


def _look(seen: Seen, store: Store) -> None:
    """Look for acknowledged sessions, doubled efforts, rows of files, and faults."""
    with store.reading() as cursor:
        typed = fetch(
            cursor,
            "SELECT athlete, started_at, effort, value FROM effort_detail "
            "WHERE batch_id IS NULL ORDER BY athlete, started_at, effort",
        )
        imported = fetch_number(
            cursor,
            "SELECT count(*) FROM effort JOIN import_batch USING (batch_id) "
            "WHERE file LIKE 'night-%'",
        )
    there = Counter(
        (code, at.date(), tuple(rows["value"]))
        for (code, at), rows in typed.groupby(["athlete", "started_at"])
    )
    asked = Counter(seen.acknowledged)
    seen.lost = sum((asked - there).values())
    seen.doubled = sum((there - asked).values()) + int(
        typed.duplicated(["athlete", "started_at", "effort"]).sum()
    )
    seen.lost += max(0, seen.rows_imported - imported)
    seen.doubled += max(0, imported - seen.rows_imported)
    seen.problems = len(check(store))


def _figures(seen: Seen, browsers: int) -> dict[str, object]:
    waits = pd.Series(seen.waits)
    return {
        "browser windows": browsers,
        "entries said to be stored": len(seen.acknowledged),
        "imports": f"{seen.imports}, {seen.rows_imported:,} rows",
        "fits": seen.fits,
        "lost": seen.lost,
        "doubled": seen.doubled,
        "pages with an error": len(seen.errors),
        "commands that failed": len(seen.failed),
        "faults found by the check": seen.problems,
        "wait for an answer, median": f"{waits.median():.1f} s",
        "wait for an answer, longest": f"{waits.max():.1f} s",
        "times a page said that it waits": seen.notices,
        "command, longest": f"{max(seen.command_seconds):.1f} s",
        "commands that said that they wait": seen.commands_waited,
    }


def main() -> None:
    """Let them all work, look, and print the table; exit with status 1 if anything is wrong."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--browsers", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--rows", type=int, default=5_000, help="of each file that is imported")
    asked = parser.parse_args()
    with TemporaryDirectory() as folder:
        seen = many_at_once(Path(folder), asked.browsers, asked.seconds, asked.rows)
    for line in [*seen.errors, *seen.failed]:
        print(line, file=sys.stderr)
    print(table(pd.DataFrame({"found": _figures(seen, asked.browsers)})))
    sys.exit(int(seen.bad > 0))


if __name__ == "__main__":
    main()
