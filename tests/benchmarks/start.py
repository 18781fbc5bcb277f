"""How long the server takes to its first answer and its first page, against an empty Streamlit.

    python -m tests.benchmarks.start --times 5

starts `warmcurve serve` on the demo squad and Streamlit with a tiny script in turn, and asks each
for a page again and again from the first moment on. It prints a table in Markdown.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory

import httpx2 as httpx
import pandas as pd

from dashboard.app.demo import demo_store
from tests.benchmarks.markdown import table
from tests.dashboard.live_server import WARMCURVE, free_port, quiet_environment

__all__ = ["seconds_until"]

LONGEST_SECONDS = 120.0


def seconds_until(
    words: Sequence[str], address: str, conditions: Sequence[Callable[[str], bool]]
) -> list[float]:
    """Start a server, ask it again and again, and return when each condition first held.

    Parameters
    ----------
    words, address
        The command that starts it, and the address to ask.
    conditions
        Each gets the text of an answer; they are tried one after another.
    """
    process = subprocess.Popen(
        words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=quiet_environment()
    )
    began, seconds = time.perf_counter(), list[float]()
    try:
        while len(seconds) < len(conditions):
            if time.perf_counter() - began > LONGEST_SECONDS:
                raise TimeoutError(f"{' '.join(words)} did not answer.")
            with suppress(httpx.TransportError):
                for text in _parts(address):
                    while len(seconds) < len(conditions) and conditions[len(seconds)](text):
                        seconds.append(time.perf_counter() - began)
            time.sleep(0.02)
    finally:
        process.terminate()
        process.wait()
    return seconds


def _parts(address: str) -> Iterator[str]:
    """Ask once, and yield the text received so far each time more of the page arrives."""
    text = ""
    asked = {"Accept": "text/html"}
    with httpx.stream("GET", address, headers=asked, timeout=LONGEST_SECONDS) as answer:
        for part in answer.iter_text():
            text += part
            yield text


def measured(folder: Path, times: int) -> pd.DataFrame:
    """Return median seconds over some starts, and their ratio to an empty Streamlit's."""
    store = demo_store(folder / "demo.duckdb", lambda _: None)
    script = folder / "empty.py"
    script.write_text("import streamlit as st\nst.write('x')\n")
    ours, empty = list[list[float]](), list[list[float]]()
    for _ in range(times):
        port = str(free_port())
        empty.append(
            seconds_until(
                [
                    *(sys.executable, "-m", "streamlit", "run", str(script)),
                    *("--server.port", port, "--server.headless", "true"),
                    *("--browser.gatherUsageStats", "false"),
                ],
                f"http://127.0.0.1:{port}/",
                [lambda text: "streamlit" in text.lower()],
            )
        )
        port = str(free_port())
        ours.append(
            seconds_until(
                [*WARMCURVE, "serve", "--port", port, "--no-browser", "--db", str(store.path)],
                f"http://127.0.0.1:{port}/signin",
                [bool, lambda text: 'name="password"' in text],
            )
        )
    [streamlit] = pd.DataFrame(empty).median()
    found = pd.Series(
        list(pd.DataFrame(ours).median()), ["first answer: what it does", "the sign-in page"]
    )
    rows = pd.DataFrame({"seconds": found, "times an empty Streamlit": found / streamlit})
    rows.loc["an empty Streamlit"] = [streamlit, 1.0]
    return rows


def main() -> None:
    """Measure, and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--times", type=int, default=5)
    asked = parser.parse_args()
    with TemporaryDirectory() as folder:
        print(table(measured(Path(folder), asked.times)))


if __name__ == "__main__":
    main()
