"""The response model beside other ways, in one run, on the same squads.

    python -m tests.benchmarks.side_by_side --seeds 3 --rows plenty

prints Markdown tables: performance lost by shape, coverage of best volume, calls, seconds and
memory. Every fit runs in its own process, one at a time. A peer whose library is not installed is
listed as left out.
"""

from __future__ import annotations

import argparse
from itertools import product

import numpy as np
import pandas as pd
from rich.console import Console
from rich.progress import track

from tests.benchmarks.fresh_process import in_fresh_process
from tests.benchmarks.markdown import table
from tests.benchmarks.nlme_peer import Nlme
from tests.benchmarks.nuts_peer import Nuts
from tests.benchmarks.peers import (
    Fitted,
    GaussianProcess,
    MixedQuadratic,
    OwnModel,
    OwnQuadratic,
    Peer,
    UsualRule,
    fit_peer,
)
from tests.benchmarks.scores import Advice, scores_of, share_right
from tests.benchmarks.squads import OWN_FAMILY, ROWS, SHAPES, draw_squad

__all__ = ["PEERS", "main", "report"]

PEERS: tuple[type[Peer], ...] = (
    OwnModel,
    UsualRule,
    OwnQuadratic,
    MixedQuadratic,
    GaussianProcess,
    Nlme,
    Nuts,
)

CASE = ["row", "shape", "seed"]
"""Columns that identify a squad."""


def score_case(
    kind: type[Peer], row: str, shape: str, seed: int, athletes: int
) -> list[dict[str, object]]:
    """Score one peer on one squad, a line for every athlete; a failed peer has no advice."""
    truths, frame = draw_squad(row, shape, seed, athletes)
    measured = in_fresh_process(fit_peer, kind, frame)
    fitted: Fitted = measured.value
    key: dict[str, object] = {
        "peer": kind.name,
        "row": row,
        "shape": shape,
        "seed": seed,
        "seconds": fitted.seconds,
        "peak_mib": measured.peak_mib,
        "note": fitted.note,
    }
    codes = sorted(frame["athlete"].unique())
    return [
        key | {"athlete": code} | scores_of(truth, fitted.advice.get(code, Advice(np.nan)))
        for truth, code in zip(truths, codes, strict=True)
    ]


def report(scores: pd.DataFrame, left_out: dict[str, str]) -> str:
    """Write all scores as Markdown."""
    parts = {
        "Side by side": table(_overall(scores)),
        "Performance given away by shape, %": table(_by(scores, "shape", list(SHAPES)), "{:.3f}"),
        "Performance given away by row, %": table(_by(scores, "row", list(ROWS)), "{:.3f}"),
        "Notes": "\n".join(_notes(scores, left_out)),
    }
    return "\n\n".join(f"### {title}\n\n{body}" for title, body in parts.items())


def _overall(scores: pd.DataFrame) -> pd.DataFrame:
    own = scores["shape"] == OWN_FAMILY
    lines = {}
    for name in _present(scores):
        part = scores[scores["peer"] == name]
        squads = part.drop_duplicates(CASE)
        judged = part.dropna(subset="chance_short")
        lines[name] = {
            "loss %": f"{part.loc[~own, 'loss_pct'].mean():.3f}",
            f"loss %, {OWN_FAMILY}": f"{part.loc[own, 'loss_pct'].mean():.3f}",
            "warmcurve's loss to this": _ratio(scores[~own], part),
            f"warmcurve's to this, {OWN_FAMILY}": _ratio(scores[own], part),
            "coverage of best": part["best"].mean(),
            "called": (judged["call"] != "not known").mean(),
            "right of those called": share_right(part),
            "seconds": f"{squads['seconds'].median():.3f}",
            "seconds to warmcurve's": _times(scores, squads),
            "peak MiB": f"{squads['peak_mib'].max():.0f}",
            "failed": str(int(squads["note"].str.startswith("failed").sum())),
        }
    return pd.DataFrame.from_dict(lines, orient="index").replace("nan", "-")


def _ratio(some: pd.DataFrame, part: pd.DataFrame) -> float:
    """Return the ratio of our mean loss to a peer's, on the athletes that the peer advised."""
    both = _beside(some, part, [*CASE, "athlete"]).dropna(subset="loss_pct")
    other = both["loss_pct"].mean()
    return float(both["loss_pct_own"].mean() / other) if other > 0 else float("nan")


def _times(scores: pd.DataFrame, squads: pd.DataFrame) -> float:
    """Return the median over squads of a peer's seconds as a multiple of ours."""
    both = _beside(scores.drop_duplicates(["peer", *CASE]), squads, CASE)
    return float((both["seconds"] / both["seconds_own"]).median())


def _beside(some: pd.DataFrame, part: pd.DataFrame, on: list[str]) -> pd.DataFrame:
    own = some[some["peer"] == OwnModel.name]
    return part.merge(own, on=on, suffixes=("", "_own"))


def _present(scores: pd.DataFrame) -> list[str]:
    return [kind.name for kind in PEERS if kind.name in set(scores["peer"])]


def _by(scores: pd.DataFrame, column: str, order: list[str]) -> pd.DataFrame:
    losses = scores.pivot_table(index="peer", columns=column, values="loss_pct", aggfunc="mean")
    return losses.reindex(index=_present(scores), columns=[n for n in order if n in losses])


def _notes(scores: pd.DataFrame, left_out: dict[str, str]) -> list[str]:
    lines = [f"* {kind.name}: {kind.source}" for kind in PEERS]
    lines += [f"* Left out: {name}, for want of {what}." for name, what in left_out.items()]
    told = scores[scores["note"] != ""].drop_duplicates(["peer", *CASE])
    return lines + [
        f"* {each.peer} on {each.row}, {each.shape}, seed {each.seed}: {each.note}"
        for each in told.itertuples()
    ]


def main() -> None:
    """Run the peers asked for on the squads asked for, and print the report."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=3, help="squads of each row and shape")
    parser.add_argument("--rows", nargs="+", choices=list(ROWS), default=["plenty"])
    parser.add_argument("--shapes", nargs="+", choices=SHAPES, default=list(SHAPES))
    names = [kind.name for kind in PEERS]
    parser.add_argument("--peers", nargs="+", choices=names, default=names)
    parser.add_argument("--athletes", type=int, default=30)
    asked = parser.parse_args()
    lacking = {kind: kind().lacking() for kind in PEERS if kind.name in asked.peers}
    ready = [kind for kind, what in lacking.items() if what is None]
    cases = list(product(ready, asked.rows, asked.shapes, range(1, asked.seeds + 1)))
    told = Console(stderr=True)
    scores = [
        line
        for case in track(cases, "Fitting peers", console=told)
        for line in score_case(*case, asked.athletes)
    ]
    left_out = {kind.name: what for kind, what in lacking.items() if what is not None}
    print(report(pd.DataFrame(scores), left_out))


if __name__ == "__main__":
    main()
