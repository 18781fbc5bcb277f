"""How long a tester waits for an effort to be accepted, against a rerun of an empty page.

    python -m tests.benchmarks.accept --efforts 20

serves a small squad with its curves, and an empty Streamlit page. In Chromium it types efforts of
two athletes in turn, and reruns the empty page after each, so that both run on the same machine
under the same load. It prints the medians in seconds and their ratio.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

from playwright.sync_api import Page

from dashboard.app.serve import wait_until_up
from dashboard.fits.fitting import fit_measure
from db.efforts.new_rounds import Method, NewLiveTest, NewTest, StopRule, begin_live_test
from tests.dashboard.conftest import fill, new_store
from tests.dashboard.live_server import free_port, serving
from tests.dashboard.screens import chromium, screen

__all__ = ["main"]

EMPTY = """
import streamlit as st
st.session_state.runs = st.session_state.get("runs", 0) + 1
st.button("Again")
st.write(f"run {st.session_state.runs}.")
"""
SAYS = "text => document.body.innerText.replaceAll('\\u00a0', ' ').includes(text)"
NAMES = ("Long One", "Short Two")
PATIENCE_MS = 120_000


@contextmanager
def _empty_page(folder: Path) -> Iterator[str]:
    script = folder / "empty.py"
    script.write_text(EMPTY)
    port = free_port()
    settings = [f"--server.port={port}", "--server.headless=true", "--server.address=127.0.0.1"]
    command = [sys.executable, "-m", "streamlit", "run", str(script), *settings]
    quiet = "--browser.gatherUsageStats=false"
    with subprocess.Popen([*command, quiet], stdout=subprocess.DEVNULL, cwd=folder) as process:
        wait_until_up(f"http://127.0.0.1:{port}", 60)
        yield f"http://127.0.0.1:{port}"
        process.terminate()


def _seconds(page: Page, text: str) -> float:
    """Return the seconds until the page says a text."""
    started = time.perf_counter()
    page.wait_for_function(SAYS, arg=text, timeout=PATIENCE_MS)
    return time.perf_counter() - started


def _type(page: Page, number: int) -> float:
    """Accept the effort with this number in the whole test, and wait for the answer."""
    name, effort = NAMES[number % 2], number // 2 + 1
    field = page.get_by_label(f"{name}, effort {effort}, in cm")
    field.wait_for(timeout=PATIENCE_MS)
    value = f"38.{number % 9 + 1}"
    field.fill(value)
    field.press("Enter")
    return _seconds(page, f"{name}, effort {effort}: {value} cm")


def waits(efforts: int, folder: Path) -> tuple[list[float], list[float]]:
    """Return the seconds for each effort, and for the rerun of the empty page after it."""
    store = new_store(folder / "club.duckdb")
    fill(store, fitted=False)
    fit_measure(store, "jump_height", "benchmark")
    tests = tuple(NewTest(code, {"pain": False}) for code in ("A1", "A2"))
    now = datetime.now().replace(microsecond=0)
    rule = StopRule(0.5, 20)
    live_test_id = begin_live_test(
        store, NewLiveTest("jump_height", now, tests, Method(), rule), "carl"
    )
    with (
        _empty_page(folder) as empty,
        serving(store.path) as server,
        chromium() as browser,
        screen(browser, server, "carl", "tablet") as seen,
    ):
        bare = browser.new_page()
        bare.goto(empty)
        _seconds(bare, "run 1.")
        seen.open(f"run-test?test={live_test_id}")
        accepted, reran = [], []
        for number in range(efforts):
            seen.page.bring_to_front()
            accepted.append(_type(seen.page, number))
            bare.bring_to_front()
            bare.get_by_role("button", name="Again").click()
            reran.append(_seconds(bare, f"run {number + 2}."))
    return accepted, reran


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--efforts", type=int, default=20)
    with TemporaryDirectory() as folder:
        accepted, reran = waits(parser.parse_args().efforts, Path(folder))
    one, other = median(accepted[1:]), median(reran[1:])
    print(f"accepted {one:.2f} s, longest {max(accepted):.2f} s; empty rerun {other:.2f} s")
    print(f"ratio {one / other:.1f}")


if __name__ == "__main__":
    main()
