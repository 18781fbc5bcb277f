"""Whether the response model is right on realistic squads.

    python -m tests.benchmarks.rough_squads --seeds 20 --workers 2 --out rough.csv

fits every kind in `rough_kinds` (or those named by `--kinds`), adds a line for each athlete to the
file, and prints what was asked beside what was found. A run that was stopped goes on where it
stopped; a complete file is only summed up. `--before` takes the file of an earlier model, `--peers`
runs other ways on the same squads (slow), `--sessions` draws mixed squads with 1 to 30 sessions
each, and `--kept-back` takes the kinds that nobody looks at while building the model.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from itertools import product
from pathlib import Path

import pandas as pd
from joblib import Parallel, delayed
from rich.console import Console
from rich.progress import track

from tests.benchmarks.kept_back_shapes import KEPT_BACK
from tests.benchmarks.markdown import table
from tests.benchmarks.peers import OwnModel
from tests.benchmarks.rough_figure import sessions_figure, write_svg
from tests.benchmarks.rough_kinds import BY_SESSIONS, KINDS, Kind, named
from tests.benchmarks.rough_report import by_sessions, report
from tests.benchmarks.rough_scores import PEERS, score_squad

__all__ = ["main", "read_scores", "run"]

SQUAD = ["peer", "kind", "seed", "part"]
"""Columns that identify a fit."""


def read_scores(path: Path) -> pd.DataFrame:
    """Read a file of scores, without squads that a stopped run left incomplete."""
    if not path.exists():
        return pd.DataFrame(columns=[*SQUAD, "athletes"])
    found = pd.read_csv(path, dtype={"note": str}, on_bad_lines="skip")
    return found[found.groupby(SQUAD)["athletes"].transform("size") == found["athletes"]]


def run(
    kinds: Mapping[str, Kind], seeds: range, peers: list[str], path: Path, workers: int
) -> pd.DataFrame:
    """Fit what the file does not have yet, add it, and return everything asked for."""
    asked = [
        (peer, kind.name, seed, part)
        for peer, kind, seed in product([OwnModel.name, *peers], kinds.values(), seeds)
        for part in range(kind.squads)
    ]
    found = read_scores(path)
    done = set(found[SQUAD].itertuples(index=False, name=None))
    left = [case for case in asked if case not in done]
    if done:
        found.to_csv(path, index=False)
    fitting = Parallel(n_jobs=workers, return_as="generator_unordered")(
        delayed(score_squad)(kinds[name], seed, part, peer) for peer, name, seed, part in left
    )
    columns = list(found.columns) if done else None
    for lines in track(fitting, "Fitting squads", total=len(left), console=Console(stderr=True)):
        scores = pd.DataFrame(lines, columns=columns)
        scores.to_csv(path, mode="a" if columns else "w", header=not columns, index=False)
        columns = list(scores.columns)
    scores = read_scores(path)
    return scores[pd.MultiIndex.from_frame(scores[SQUAD]).isin(asked)]


def main() -> None:
    """Fit the squads asked for, and print the report."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=20, help="how many of each kind")
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--kinds", nargs="+", choices=list(KINDS), metavar="NAME")
    parser.add_argument("--workers", type=int, default=1, help="processes")
    parser.add_argument("--peers", nargs="+", choices=list(PEERS), default=[])
    parser.add_argument("--out", type=Path, required=True, help="file of scores (CSV)")
    parser.add_argument("--before", type=Path, help="file of scores of an earlier model")
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--sessions", action="store_true", help="by the number of sessions")
    parser.add_argument("--figure", type=Path, help="with --sessions: a figure of it (SVG)")
    what.add_argument("--kept-back", action="store_true", help="only for the last measurement")
    asked = parser.parse_args()
    lacking = {name: PEERS[name]().lacking() for name in asked.peers}
    if any(lacking.values()):
        parser.error(f"Not installed: {', '.join(filter(None, lacking.values()))}.")
    kinds = _kinds(asked)
    seeds = range(asked.first, asked.first + asked.seeds)
    scores = run(kinds, seeds, asked.peers, asked.out, asked.workers)
    if asked.sessions:
        found = by_sessions(scores)
        print(table(found, "{:.3f}"))
        if asked.figure:
            write_svg(sessions_figure(found), asked.figure)
    else:
        before = None if asked.before is None else read_scores(asked.before)
        print(report(scores, kinds, before))


def _kinds(asked: argparse.Namespace) -> Mapping[str, Kind]:
    if asked.kept_back:
        return KEPT_BACK
    if asked.sessions:
        return named(*BY_SESSIONS.values())
    return {name: KINDS[name] for name in asked.kinds or KINDS}


if __name__ == "__main__":
    main()
