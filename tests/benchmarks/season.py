"""What `warmcurve simulate` foresees for squads like those of the accuracy benchmarks.

    python -m tests.benchmarks.season --squads 30

prints both side by side, for tidy squads and for realistic ones: squads of 30 with two fade tests
and twelve routine sessions each, drawn anew.
"""

from __future__ import annotations

import argparse
import re
from dataclasses import replace
from pathlib import Path

import pandas as pd
from rich.console import Console
from rich.progress import Progress

from modeling.day.season_outlook import Foreseen, SeasonOutlook, SeasonPlan, season_outlook
from tests.benchmarks.markdown import table
from tests.benchmarks.squads import ROWS, WORTHWHILE_PCT

__all__ = ["main"]

DOCUMENT = Path(__file__).parents[2] / "docs" / "benchmarks.md"
ROW = ROWS["plenty"]
TIDY, ROUGH = "tidy", "as real ones may be"


def main() -> None:
    """Simulate, and print what was foreseen beside what the benchmark found."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--squads", type=int, default=30)
    asked = parser.parse_args()
    plan = SeasonPlan(30, ROW.protocol, ROW.noise, WORTHWHILE_PCT)
    with Progress(console=Console(stderr=True)) as bar:
        tidy, rough = (
            _outlook(bar, name, replace(plan, tidy=name == TIDY), asked.squads)
            for name in (TIDY, ROUGH)
        )
    text = DOCUMENT.read_text()
    found = [
        _line(f"{TIDY}: loss %", tidy.lost_pct, 1.0, _last(text, f"loss %, {ROW.title}")),
        _line(
            f"{TIDY}: share called", tidy.firm_pct, 100.0, _last(text, "share called, first row")
        ),
        _line(
            f"{TIDY}: right of them",
            tidy.right_pct,
            100.0,
            _last(text, "share of firm calls right"),
        ),
        _line(f"{ROUGH}: loss %", rough.lost_pct, 1.0, _cell(text, "moving", 3)),
        _line(f"{ROUGH}: share called", rough.firm_pct, 100.0, "-"),
        _line(f"{ROUGH}: right of them", rough.right_pct, 100.0, _cell(text, "moving", 6)),
    ]
    print(table(pd.DataFrame(found).set_index("")))


def _outlook(bar: Progress, name: str, plan: SeasonPlan, squads: int) -> SeasonOutlook:
    task = bar.add_task(f"Simulating squads, {name}", total=1.0)
    return season_outlook(plan, squads, progress=lambda share: bar.update(task, completed=share))


def _line(name: str, foreseen: Foreseen, unit: float, found: str) -> dict[str, str]:
    assert foreseen.value is not None and foreseen.low is not None and foreseen.high is not None
    value, low, high = (each / unit for each in (foreseen.value, foreseen.low, foreseen.high))
    return {
        "": name,
        "foreseen": f"{value:.3f}",
        "in 9 of 10 squads": f"{low:.3f} to {high:.3f}",
        "counted": str(foreseen.count),
        "in the table": found,
    }


def _last(text: str, name: str) -> str:
    """Return what was found, from the table of wanted and found."""
    found = re.search(rf"^\| {re.escape(name)} \|.*?\| ([\d.]+) \| \w+ \|$", text, re.M)
    return found[1] if found else "-"


def _cell(text: str, name: str, place: int) -> str:
    """Return a cell, counted from 0, in a row of the table of rough squads."""
    found = re.search(rf"^\| {re.escape(name)} \|(.*)\|$", text, re.M)
    return found[1].split("|")[place].strip() if found else "-"


if __name__ == "__main__":
    main()
