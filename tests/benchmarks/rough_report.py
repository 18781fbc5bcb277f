"""A report of what was asked of the response model on rough squads, and what was found."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from tests.benchmarks.markdown import table
from tests.benchmarks.model_scores import INTERVALS
from tests.benchmarks.nuts_peer import Nuts
from tests.benchmarks.peers import OwnModel
from tests.benchmarks.rough_bars import SIDES, SQUAD, bars, good_range, held, squads_of, to_before
from tests.benchmarks.rough_kinds import BY_SESSIONS, Kind
from tests.benchmarks.scores import brier, chances_told, share_right

__all__ = ["by_sessions", "report"]

OWN_FAMILY_LOSS = 1.15
"""The most that the response model may lose where curves are of the full Bayesian peer's family, as
a multiple of that peer's loss."""


def report(
    scores: pd.DataFrame, kinds: Mapping[str, Kind], before: pd.DataFrame | None = None
) -> str:
    """Write all scores as Markdown.

    Parameters
    ----------
    scores : DataFrame
        A line for every peer, squad and athlete, from `rough_scores`.
    kinds : mapping of str to Kind
    before : DataFrame, optional
        The same from an earlier model, to compare losses with.
    """
    own = scores[scores["peer"] == OwnModel.name]
    earlier = None if before is None else before[before["peer"] == OwnModel.name]
    weak = own["kind"].isin([name for name, kind in kinds.items() if kind.weak])
    strong = {name: part for name, part in own[~weak].groupby("kind", sort=False)}
    responding = own[~weak & (own["responds"] == 1)]
    parts = {"Asked and found": table(bars(own, kinds, earlier))}
    if strong:
        parts["By kind"] = table(_by_kind(strong, kinds, earlier), "{:.3f}")
        parts["By true shape"] = table(_by_shape(responding), "{:.3f}")
    told = own.dropna(subset="chance_short")
    parts[f"Chances (Brier score {brier(told):.3f}; 0 is perfect, 0.667 is a third each)"] = table(
        chances_told(told), "{:.3f}"
    )
    if weak.any():
        parts["Next to no response"] = table(_next_to_none(own[weak]), "{:.3f}")
    others = scores[scores["peer"] != OwnModel.name]
    if len(others):
        parts["Other ways on the same squads"] = table(_beside(own, others, kinds), "{:.3f}")
    return "\n\n".join(f"### {title}\n\n{body}" for title, body in parts.items())


def _by_kind(
    strong: Mapping[str, pd.DataFrame], kinds: Mapping[str, Kind], before: pd.DataFrame | None
) -> pd.DataFrame:
    lines = {}
    for name, part in strong.items():
        squads, good = squads_of(part), good_range(part)
        lines[name] = {
            "squads": str(len(squads)),
            **held(part),
            "loss %": part["loss_pct"].mean(),
            "SE": part.groupby(SQUAD)["loss_pct"].mean().sem(),
            "wanted": kinds[name].wanted_loss_pct,
            "to before": to_before(part, before),
            "at the length": part["length_loss_pct"].mean(),
            "at the standard": part["standard_loss_pct"].mean(),
            "firm": (part["call"] != "not known").mean(),
            "right": share_right(part),
            "best, high to low": float(np.exp(np.log(part["best_high"] / part["best_low"]).mean())),
            "good range's ends": (good["from"] + good["to"]) / 2.0,
            "inside": good["inside"],
            "worth": squads["worth"].mean(),
            "spread": squads["spread_population"].mean(),
            "seconds": squads["seconds"].median(),
        }
    return pd.DataFrame.from_dict(lines, orient="index")


def _by_shape(responding: pd.DataFrame) -> pd.DataFrame:
    found = responding.groupby("shape")[[*INTERVALS, "loss_pct"]].mean()
    right = {shape: share_right(part) for shape, part in responding.groupby("shape")}
    return found.assign(right=pd.Series(right))


def _next_to_none(weak: pd.DataFrame) -> pd.DataFrame:
    """Return shares of firm calls, errors of prediction in %, and answers beyond what was tried."""
    lines = {}
    for name, part in weak.groupby("kind", sort=False):
        squads = squads_of(part)
        lines[name] = {
            **{f"firm {call}": (part["call"] == call).mean() for call in (*SIDES, "either")},
            "error %": np.sqrt(squads["error"].mean()),
            "of the mean curve": np.sqrt(squads["mean_curve_error"].mean()),
            "of no curve": np.sqrt(squads["no_curve_error"].mean()),
            "far beyond": part["far_beyond"].mean(),
            "told beyond": part["told_beyond"].mean(),
        }
    return pd.DataFrame.from_dict(lines, orient="index")


def _beside(own: pd.DataFrame, others: pd.DataFrame, kinds: Mapping[str, Kind]) -> pd.DataFrame:
    """Return losses and coverage of best volume by peer and kind, on athletes that both advised."""
    lines = {}
    for (peer, name), part in others.groupby(["peer", "kind"], sort=False):
        both = part.dropna(subset="loss_pct").merge(
            own, on=[*SQUAD, "athlete"], suffixes=("", "_own")
        )
        loss, held = both["loss_pct"].mean(), both["best"].mean()
        own_loss, own_held = both["loss_pct_own"].mean(), both["best_own"].mean()
        if kinds[str(name)].own_family and peer == Nuts.name:
            ahead = own_loss <= OWN_FAMILY_LOSS * loss
        else:
            # A peer without an interval is compared by loss alone.
            ahead = own_loss < loss and not abs(own_held - 0.9) > abs(held - 0.9)
        lines[f"{peer}, {name}"] = {
            "squads": str(len(squads_of(both))),
            "loss %": loss,
            "ours": own_loss,
            "best held": held,
            "held by ours": own_held,
            "failed": str(len(squads_of(part)) - len(squads_of(both))),
            "ahead": "yes" if ahead else "no",
        }
    return pd.DataFrame.from_dict(lines, orient="index")


def by_sessions(scores: pd.DataFrame) -> pd.DataFrame:
    """Return coverage, losses and calls by each athlete's number of sessions."""
    lines = {}
    for count, kind in BY_SESSIONS.items():
        part = scores[scores["kind"] == kind.name]
        if len(part):
            lines[count] = {
                **held(part),
                "loss %": part["loss_pct"].mean(),
                "loss % at the length": part["length_loss_pct"].mean(),
                "loss % at the standard": part["standard_loss_pct"].mean(),
                "firm": (part["call"] != "not known").mean(),
                "right": share_right(part),
            }
    return pd.DataFrame.from_dict(lines, orient="index").rename_axis("sessions")
