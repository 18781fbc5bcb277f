"""What `warmcurve simulate` foresees for squads like those of a row of the accuracy benchmark.

    python -m tests.benchmarks.season --squads 30

prints both beside each other: squads of 30 with two fade tests and twelve routine sessions each,
drawn anew.
"""

from __future__ import annotations

import argparse
import re
from pathlib import Path

import pandas as pd
from rich.console import Console
from rich.progress import Progress

from modeling.day.season_outlook import Foreseen, SeasonPlan, season_outlook
from tests.benchmarks.markdown import table
from tests.benchmarks.squads import ROWS, WORTHWHILE_PCT

__all__ = ["main"]

DOCUMENT = Path(__file__).parents[2] / "docs" / "benchmarks.md"
ROW = ROWS["plenty"]


def main() -> None:
    """Simulate, and print what was foreseen beside what the benchmark found."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--squads", type=int, default=30)
    asked = parser.parse_args()
    plan = SeasonPlan(30, ROW.protocol, ROW.noise, WORTHWHILE_PCT)
    with Progress(console=Console(stderr=True)) as bar:
        task = bar.add_task("Simulating squads", total=1.0)
        outlook = season_outlook(
            plan, asked.squads, progress=lambda share: bar.update(task, completed=share)
        )
    lines = {
        f"loss %, {ROW.title}": (outlook.lost_pct, 1.0),
        "share called, first row": (outlook.firm_pct, 100.0),
        "share of firm calls right": (outlook.right_pct, 100.0),
    }
    print(table(pd.DataFrame({name: _line(name, *found) for name, found in lines.items()}).T))


def _line(name: str, foreseen: Foreseen, unit: float) -> dict[str, str]:
    found = re.search(rf"^\| {re.escape(name)} \|.*?\| ([\d.]+) \|", DOCUMENT.read_text(), re.M)
    assert foreseen.value is not None and foreseen.low is not None and foreseen.high is not None
    value, low, high = (each / unit for each in (foreseen.value, foreseen.low, foreseen.high))
    return {
        "foreseen": f"{value:.3f}",
        "in 9 of 10 squads": f"{low:.3f} to {high:.3f}",
        "counted": str(foreseen.count),
        "in the table": found[1] if found else "-",
    }


if __name__ == "__main__":
    main()
