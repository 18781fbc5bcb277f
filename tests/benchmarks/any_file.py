"""How many of sixty layouts are read right without a correction, and whether any is read wrongly.

    python -m tests.benchmarks.any_file [--held-out] [--generated 1000]

reads the files of `tests/layouts` and prints a table in Markdown. A file is right when everything
in it would be imported and nothing is asked that it already shows. It counts as asked when
something else is asked, or more rows are set aside. It is wrong in silence when an effort is made
up, or one is missing without a notice. The exit status is 1 if fewer than 90 % are right, or one
is wrong in silence.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import pandas as pd

from db.errors import BadInput
from db.file.store import Store
from db.imports.storing import check_rows
from db.readings.any_file import open_file, read_any, rows_by
from db.roster.athletes import save_athletes
from tests.benchmarks.markdown import table
from tests.layouts.every import BUILT_WITH, HELD_OUT
from tests.layouts.generated import generated
from tests.layouts.layout import ATHLETES, Effort, Layout

__all__ = ["Outcome", "main", "read_layout", "squad_store"]

RIGHT, ASKED, WRONG = "right", "asked or set aside", "wrong in silence"
LEAST_RIGHT = 0.9


@dataclass(frozen=True)
class Outcome:
    """How a layout was read: one of the three outcomes, and why."""

    layout: Layout
    how: str
    why: str


def squad_store(path: Path) -> Store:
    """Make a store with the athletes that the layouts are about."""
    store = Store(path)
    store.create()
    people = pd.DataFrame(ATHLETES.items(), columns=["athlete", "name"], dtype=str)
    save_athletes(store, people, "benchmark")
    return store


def read_layout(store: Store, layout: Layout) -> Outcome:
    """Read a file as its owner would: answer what it cannot show, and check the rest."""
    answers: dict[str, str] = {}
    try:
        laid = open_file(layout.content, layout.file, layout.sheet)
        reading = read_any(store, laid)
        while reading.open_questions:
            keys = [each.key for each in reading.open_questions]
            needless = [key for key in keys if key not in layout.answers]
            if needless:
                return Outcome(layout, ASKED, f"asks {', '.join(needless)}")
            if all(key in answers for key in keys):
                return Outcome(layout, ASKED, f"does not take the answer to {', '.join(keys)}")
            answers |= {key: layout.answers[key] for key in keys}
            reading = read_any(store, laid, answers)
        check = check_rows(store, rows_by(store, laid, reading))
    except BadInput as refusal:
        return Outcome(layout, ASKED, refusal.message)
    found = {
        Effort(
            str(row.athlete),
            pd.Timestamp(row.started_at).isoformat("T", "minutes"),
            str(row.measure),
            int(row.effort),
            round(float(row.value), 4),
            float(row.volume),
        )
        for row in check.new.itertuples()
    }
    truth = set(layout.truth)
    if made_up := sorted(found - truth):
        return Outcome(layout, WRONG, f"stores {made_up[0]}")
    aside = check.set_aside["reason"].tolist()
    if missing := sorted(truth - found):
        told = len(aside) >= len(missing)
        return Outcome(layout, ASKED if told else WRONG, f"lacks {missing[0]}; {aside[:1]}")
    if len(aside) != layout.set_aside:
        return Outcome(layout, ASKED, f"sets {len(aside)} rows aside: {aside[:1]}")
    return Outcome(layout, RIGHT, "")


def read_all(layouts: Sequence[Layout]) -> list[Outcome]:
    """Read layouts one by one, against a store of the squad."""
    with TemporaryDirectory() as folder:
        store = squad_store(Path(folder) / "squad.duckdb")
        return [read_layout(store, layout) for layout in layouts]


def main(arguments: Sequence[str] | None = None) -> int:
    """Read the layouts, print the table, and return the exit status."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--held-out", action="store_true", help="also those that were held out")
    parser.add_argument("--generated", type=int, default=0, help="how many made at random")
    parser.add_argument("--from", type=int, default=0, dest="first", help="the first number")
    wanted = parser.parse_args(arguments)
    groups = {"built with": BUILT_WITH} | ({"held out": HELD_OUT} if wanted.held_out else {})
    if wanted.generated:
        numbers = range(wanted.first, wanted.first + wanted.generated)
        groups["made at random"] = tuple(map(generated, numbers))
    rows, every = [], []
    for name, layouts in groups.items():
        outcomes = read_all(layouts)
        every += outcomes
        counts = Counter(each.how for each in outcomes)
        rows.append([name, len(outcomes), *(counts[how] for how in (RIGHT, ASKED, WRONG))])
        for each in outcomes:
            if each.how != RIGHT:
                print(f"{each.layout.name}: {each.how}: {each.why}", file=sys.stderr)
    frame = pd.DataFrame(rows, columns=["layouts", "files", RIGHT, ASKED, WRONG])
    print(table(frame.set_index("layouts")))
    right = sum(each.how == RIGHT for each in every) / len(every)
    return int(right < LEAST_RIGHT or any(each.how == WRONG for each in every))


if __name__ == "__main__":
    sys.exit(main())
