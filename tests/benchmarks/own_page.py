"""How long an athlete waits on a slow phone network, and how much a first visit loads.

    python -m tests.benchmarks.own_page --visits 5

serves the demo and opens three pages in Chromium, with the network slowed down to 1.6 Mbit/s and
150 ms a request: the athlete's plain page, the same by a private link, and the Streamlit page *My
warm-up*. Then it opens the first pages of director and coach at full speed. Every visit begins
with a new browser window and an empty cache. Before a first visit something is written to the
store, so that the server has nothing cached; a second visit is in another window, without a write.
It prints two tables in Markdown, and ends with status 1 if anything exceeds its limit.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any

import pandas as pd
from playwright.sync_api import Browser, Page

from dashboard.app.demo import after_curves, demo_store
from dashboard.athlete.private_links import make_link
from dashboard.fits.fitting import fit_all
from dashboard.screen.web_sessions import open_session
from dashboard.serving.gate import OWN_PATH, SESSION_COOKIE
from db.file.settings import set_setting
from db.file.store import Store
from db.people.accounts import list_people
from tests.benchmarks.markdown import table
from tests.dashboard.live_server import LiveServer, serving
from tests.dashboard.screens import SIZES, chromium

BYTES_A_SECOND, LATENCY_MS = 1.6e6 / 8, 150
CURVE, PLOT = "svg.curve .line", ".js-plotly-plot .main-svg"
SEEN = """selector => {
  window.seen = {};
  const look = () => {
    const words = document.querySelector('h1, h2');
    if (words?.innerText.trim()) window.seen.text ??= performance.now() / 1000;
    if (document.querySelector(selector) && document.readyState === 'complete')
      window.seen.all ??= performance.now() / 1000;
    if (!window.seen.all) requestAnimationFrame(look);
  };
  look();
}"""
"""Notes when a heading first has words, and when the element asked for is first drawn."""


@dataclass
class Visit:
    """Seconds until the first text and until everything is drawn, and bytes of each request."""

    first_text: float = 0.0
    everything: float = 0.0
    sizes: dict[str, float] = field(default_factory=dict)

    @property
    def kilobytes(self) -> float:
        """Kilobytes received over the network, with headers and websocket frames."""
        return sum(self.sizes.values()) / 1000

    @property
    def requests(self) -> int:
        """The number of answers received."""
        return len(self.sizes) - ("websocket" in self.sizes)


@dataclass(frozen=True)
class Bar:
    """The limits for the median visit."""

    first_text: float
    everything: float
    kilobytes: float
    requests: int


OWN_BAR = Bar(1.5, 2.0, 60.0, 3)
STAFF_KILOBYTES = 9500 / 3
"""A third of what a first visit once took."""


@contextmanager
def watched(browser: Browser, slow: bool) -> Iterator[tuple[Page, Visit]]:
    """Open a window with an empty cache, and count what it loads."""
    width, height = SIZES["phone" if slow else "desktop"]
    context = browser.new_context(viewport={"width": width, "height": height})
    page, visit = context.new_page(), Visit()
    tools = context.new_cdp_session(page)

    def loaded(event: dict[str, Any]) -> None:
        visit.sizes[event["requestId"]] = event["encodedDataLength"]

    def came(event: dict[str, Any]) -> None:
        frame = event["response"]
        share = 1.0 if frame["opcode"] == 1 else 0.75  # binary frames are in base64
        more = share * len(frame["payloadData"])
        visit.sizes["websocket"] = visit.sizes.get("websocket", 0.0) + more

    tools.on("Network.loadingFinished", loaded)
    tools.on("Network.webSocketFrameReceived", came)
    tools.send("Network.enable")
    if slow:
        limits = {"downloadThroughput": BYTES_A_SECOND, "uploadThroughput": BYTES_A_SECOND}
        limits |= {"latency": LATENCY_MS, "offline": False}
        tools.send("Network.emulateNetworkConditions", limits)
    try:
        yield page, visit
    finally:
        context.close()


def visit_once(
    browser: Browser, server: LiveServer, path: str, token: str, drawn: str, slow: bool = True
) -> Visit:
    """Open a page once and wait until `drawn` is there; without a token nobody is signed in."""
    with watched(browser, slow) as (page, visit):
        if token:
            page.context.add_cookies(
                [{"name": SESSION_COOKIE, "value": token, "url": server.address}]
            )
        page.add_init_script(f"({SEEN})({drawn!r})")
        page.goto(f"{server.address}{path}", wait_until="commit", timeout=0)
        page.wait_for_function("() => window.seen?.all", timeout=0)
        page.wait_for_load_state("networkidle", timeout=0)
        seen = page.evaluate("() => window.seen")
        visit.first_text, visit.everything = seen["text"], seen["all"]
        return visit


def measured(visits: list[Visit]) -> dict[str, float]:
    """Return the medians of some visits."""
    names = ("first_text", "everything", "kilobytes", "requests")
    return {name: median(float(getattr(each, name)) for each in visits) for name in names}


def within(found: dict[str, float], bar: Bar) -> bool:
    """Tell whether every number is within its limit."""
    return all(found[name] <= most for name, most in vars(bar).items())


def athletes_pages(
    browser: Browser, server: LiveServer, store: Store, token: str, visits: int
) -> dict[str, dict[str, float]]:
    """Measure the athlete's pages on the slow network, each on a first and a second visit."""
    athlete = next(each.athlete for each in list_people(store) if each.athlete) or ""
    link = make_link(store, athlete, 1, "benchmark")
    asked: dict[str, tuple[str, str, str]] = {
        "the athlete's page": (OWN_PATH, token, CURVE),
        "a private link": (link, "", CURVE),
        "My warm-up in Streamlit": ("/my-warm-up", token, PLOT),
    }
    found = {}
    for what, (path, own, drawn) in asked.items():
        first, again = [], []
        for number in range(visits):
            set_setting(store, "benchmark_visit", f"{what} {number}", "benchmark")
            first.append(visit_once(browser, server, path, own, drawn))
            again.append(visit_once(browser, server, path, own, drawn))
        found[what] = measured(first)
        found[f"{what}, asked for again"] = measured(again)
    return found


def first_pages(
    browser: Browser, server: LiveServer, token_of: Callable[[str], str]
) -> dict[str, float]:
    """Return the kilobytes of a first visit by each staff role."""
    asked = {
        "Squad as a director": ("director", "/squad", PLOT),
        "Today as a coach": ("coach", "/today", "h1"),
    }
    return {
        what: visit_once(browser, server, path, token_of(role), drawn, slow=False).kilobytes
        for what, (role, path, drawn) in asked.items()
    }


def main() -> None:
    """Measure and print the tables; exit with status 1 if anything exceeds its limit."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--visits", type=int, default=5, help="of each page, and as many again")
    asked = parser.parse_args()
    with TemporaryDirectory() as name, chromium() as browser:
        store = demo_store(Path(name) / "demo.duckdb", lambda sentence: None)
        for outcome in fit_all(store, "benchmark"):
            after_curves(store, outcome.measure.code)
        people = {person.role: person for person in list_people(store)}
        with serving(store.path) as server:

            def token_of(role: str) -> str:
                return open_session(store, people[role])

            staff = first_pages(browser, server, token_of)
            own = athletes_pages(browser, server, store, token_of("athlete"), asked.visits)
    shown = pd.DataFrame({"wanted at most": vars(OWN_BAR), **own}).T
    print(table(shown.set_axis(["first text, s", "everything, s", "kB", "requests"], axis=1)))
    print(table(pd.DataFrame({"kB": {"wanted at most": STAFF_KILOBYTES, **staff}}), "{:.0f}"))
    met = all(within(row, OWN_BAR) for what, row in own.items() if "Streamlit" not in what)
    sys.exit(int(not met or max(staff.values()) > STAFF_KILOBYTES))


if __name__ == "__main__":
    main()
