"""How accurate the response model is on squads with known truth.

    python -m tests.benchmarks.accuracy --seeds 5 --jobs 2

prints one report in Markdown: what is lost at the advised volume, how often intervals cover, how
often calls are right, whether chances are calibrated, and the squad's numbers.
"""

from __future__ import annotations

import argparse
from itertools import product

import pandas as pd
from joblib import Parallel, delayed
from rich.console import Console
from rich.progress import track

from modeling import ResponseModel
from tests.benchmarks.markdown import table
from tests.benchmarks.model_scores import INTERVALS, athlete_scores, squad_scores
from tests.benchmarks.scores import brier, chances_told, share_right
from tests.benchmarks.squads import (
    ROWS,
    SHAPES,
    STANDARD,
    WORTHWHILE_PCT,
    draw_squad,
    population_log_sd,
)

__all__ = ["Scored", "main", "report", "score_squad"]

Scored = tuple[list[dict[str, object]], dict[str, object]]
"""A squad's scores: one for each athlete, and one for the squad as a whole."""

NO_EFFECT = "no effect"


def score_squad(row: str, shape: str, seed: int, athletes: int = 30) -> Scored:
    """Simulate a squad, fit it, and score everything the model says about it."""
    truths, frame = draw_squad(row, shape, seed, athletes)
    model = ResponseModel(standard_volume=STANDARD, worthwhile_pct=WORTHWHILE_PCT)
    model.fit(frame, frame["value"])
    key: dict[str, object] = {"row": row, "shape": shape, "seed": seed}
    own = [
        key | athlete_scores(athlete, model.responses_[code], rows)
        for athlete, (code, rows) in zip(truths, frame.groupby("athlete"), strict=True)
    ]
    return own, key | squad_scores(truths, model, population_log_sd(shape))


def report(athletes: pd.DataFrame, squads: pd.DataFrame) -> str:
    """Write all scores as Markdown."""
    parts = {
        "Targets": table(_targets(athletes, squads)),
        "Performance given away, %": table(_losses(athletes)),
        "Share of true values in 90 % intervals": table(_coverage(athletes)),
        "Calls": table(_calls(athletes)),
        f"Chances (Brier score {brier(athletes):.3f}; 0 is perfect, 0.667 is a third each)": (
            table(chances_told(athletes), "{:.3f}")
        ),
        "Squad numbers": table(_squad_numbers(squads)),
    }
    return "\n\n".join(f"### {title}\n\n{body}" for title, body in parts.items())


def _targets(athletes: pd.DataFrame, squads: pd.DataFrame) -> pd.DataFrame:
    lines: list[tuple[str, str, float, bool]] = []

    def at_most(what: str, limit: float, found: float) -> None:
        lines.append((what, f"at most {limit}", found, found <= limit))

    def at_least(what: str, limit: float, found: float) -> None:
        lines.append((what, f"at least {limit}", found, found >= limit))

    loss = athletes.groupby("row")["loss_pct"].mean()
    for row in _in_order(athletes, "row"):
        at_most(f"loss %, {ROWS[row].title}", ROWS[row].wanted_loss_pct, loss[row])
    first = athletes[athletes["row"] == "plenty"]
    if len(first):
        share = first["loss_pct"].mean() / first["usual_loss_pct"].mean()
        at_most("loss against the usual rule's, first row", 0.5, share)
        called = (first["call"] != "not known").mean()
        at_least("share called, first row", 0.70, called)
    covered = athletes[INTERVALS].mean()
    for name in INTERVALS:
        met = bool(0.86 <= covered[name] <= 0.95)
        lines.append((f"coverage of {name}", "0.86 to 0.95", covered[name], met))
    by_shape = athletes.groupby("shape")[INTERVALS].mean()
    at_least("lowest coverage of a shape", 0.80, by_shape.min().min())
    at_least("share of firm calls right", 0.95, share_right(athletes))
    flat = athletes[athletes["shape"] == NO_EFFECT]
    if len(flat):
        wrong = flat["call"].isin(["short", "long"]).mean()
        at_most("called short or long where there is no effect", 0.03, wrong)
    at_least("coverage of worth", 0.80, squads["worth"].mean())
    at_least("coverage of worth over the standard", 0.80, squads["worth_standard"].mean())
    at_least("coverage of how many gain over it", 0.80, squads["gaining"].mean())
    idle = squads[squads["shape"] == NO_EFFECT]
    if len(idle):
        said = idle["over_standard_median"].mean()
        at_most("worth said over the standard where there is no effect, %", 0.5, said)
    at_least("coverage of spread", 0.80, squads["spread_population"].mean())
    frame = pd.DataFrame(lines, columns=["target", "wanted", "found", "met"])
    frame["found"] = frame["found"].map("{:.3f}".format)
    return frame.set_index("target").replace({"met": {True: "yes", False: "no"}})


def _in_order(frame: pd.DataFrame, column: str) -> list[str]:
    names = ROWS if column == "row" else SHAPES
    return [name for name in names if name in set(frame[column])]


def _losses(athletes: pd.DataFrame) -> pd.DataFrame:
    """Return the mean loss by row and shape, with that of the usual rule in brackets."""
    cells = {}
    for row in _in_order(athletes, "row"):
        own = athletes[athletes["row"] == row]
        parts = {shape: own[own["shape"] == shape] for shape in _in_order(own, "shape")}
        parts["all"] = own
        parts["all with an effect"] = own[own["shape"] != NO_EFFECT]
        cells[ROWS[row].title] = {name: _with_usual(part) for name, part in parts.items()}
    return pd.DataFrame.from_dict(cells, orient="index").rename_axis("row (usual rule)")


def _with_usual(part: pd.DataFrame) -> str:
    usual = part["usual_loss_pct"].mean()
    beside = f" ({usual:.2f})" if usual == usual else ""
    return f"{part['loss_pct'].mean():.3f}{beside}"


def _coverage(athletes: pd.DataFrame) -> pd.DataFrame:
    """Return coverage by row and shape; `best_middle` takes a plateau's middle as its best."""
    judged = athletes[athletes["shape"] != NO_EFFECT]
    columns = [*INTERVALS, "best_middle"]
    by_row = judged.groupby("row")[columns].mean().reindex(_in_order(judged, "row"))
    by_shape = judged.groupby("shape")[columns].mean().reindex(_in_order(judged, "shape"))
    by_row.index = pd.Index([ROWS[row].title for row in by_row.index])
    overall = judged[columns].mean().to_frame("all").T
    return pd.concat([by_row, by_shape, overall])


def _calls(athletes: pd.DataFrame) -> pd.DataFrame:
    """Return calls by row and shape: share called, share of those right, and wrong sides."""
    groups = {
        ROWS[row].title: athletes[athletes["row"] == row] for row in _in_order(athletes, "row")
    }
    groups |= {s: athletes[athletes["shape"] == s] for s in _in_order(athletes, "shape")}
    groups["all"] = athletes
    sides = ["short", "long"]
    return pd.DataFrame.from_dict(
        {
            name: {
                "athletes": str(len(part)),
                "called": (part["call"] != "not known").mean(),
                "right of those called": share_right(part),
                "short or long, truly either": (
                    part["call"].isin(sides) & (part["true_call"] == "either")
                ).mean(),
                "either, truly short or long": (
                    (part["call"] == "either") & part["true_call"].isin(sides)
                ).mean(),
            }
            for name, part in groups.items()
        },
        orient="index",
    )


def _squad_numbers(squads: pd.DataFrame) -> pd.DataFrame:
    """Return coverage of worth and spread, and their medians against the truth, by row and shape.

    Worth is judged to the tenth of a per cent that pages show: where volume has no effect the
    truth is 0, and no interval of a positive number contains 0.

    `worth` is judged against what the advised volumes gain over the best single volume that the
    model names, and `worth_possible` against what the true best volumes would gain over the true
    best single one. `worth_standard` (only where volume has an effect) and `gaining` (how many
    gain more than the worthwhile change) compare with the standard. `spread_sample` is judged
    against the spread of the athletes in the sample.
    """
    columns = [name for name in squads.columns if name not in ("row", "shape", "seed")]
    by_row = squads.groupby("row")[columns].mean().reindex(_in_order(squads, "row"))
    by_shape = squads.groupby("shape")[columns].mean().reindex(_in_order(squads, "shape"))
    by_row.index = pd.Index([ROWS[row].title for row in by_row.index])
    return pd.concat([by_row, by_shape, squads[columns].mean().to_frame("all").T])


def main() -> None:
    """Score every row, shape and seed asked for, and print the report."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=5, help="squads of each row and shape")
    parser.add_argument("--rows", nargs="+", choices=list(ROWS), default=list(ROWS))
    parser.add_argument(
        "--shapes", nargs="+", choices=SHAPES, default=[s for s in SHAPES if s != SHAPES[-1]]
    )
    parser.add_argument("--athletes", type=int, default=30)
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    asked = parser.parse_args()
    cases = list(product(asked.rows, asked.shapes, range(1, asked.seeds + 1)))
    running = Parallel(n_jobs=asked.jobs, return_as="generator")(
        delayed(score_squad)(row, shape, seed, asked.athletes) for row, shape, seed in cases
    )
    told = Console(stderr=True)
    scored = list(track(running, "Fitting squads", total=len(cases), console=told))
    athletes = pd.DataFrame([each for own, _ in scored for each in own])
    print(report(athletes, pd.DataFrame([squad for _, squad in scored])))


if __name__ == "__main__":
    main()
