"""Which data would help which athlete, and why."""

from __future__ import annotations

import re

import pandas as pd

from dashboard.core.numbers import (
    Row,
    between,
    counted,
    estimate_ends,
    estimated_percent,
    listed,
    number,
    percent,
)
from dashboard.fits.usual_terms import responses
from db.efforts.rows import data_summary, observations
from db.file.store import Store
from db.fits.results import KeptFit

WIDE = 3.0
"""An interval whose ends differ by this factor says little about a length (our judgement)."""
ALIKE = 1.5
"""Volumes whose ends differ by less than this factor count as one volume (our judgement)."""
MANY_SESSIONS = 8
ENDS = [0.05, 0.95]


def data_wanted(store: Store, measure: str) -> pd.DataFrame:
    """Return the active athletes without a firm call or with a wide interval, widest first.

    Columns: those of `db.fits.results.responses`, `fade_tests`, `width` (the upper end of the best
    volume's interval divided by the lower), `largest_volume`, and `tried_low` and `tried_high`,
    between which nine in ten of the volumes lie. The last three are missing without efforts.
    """
    rows = responses(store, measure)
    rows = rows[rows["active"]]
    summary = data_summary(store)
    counts = summary[summary["measure"] == measure].set_index("athlete")
    tried = observations(store, measure).groupby("athlete")["volume"]
    tried_low, tried_high = (tried.quantile(end) for end in ENDS)
    rows = rows.assign(
        fade_tests=rows["athlete"].map(counts["fade_tests"]).fillna(0).astype(int),
        largest_volume=rows["athlete"].map(counts["largest_volume"]),
        tried_low=rows["athlete"].map(tried_low),
        tried_high=rows["athlete"].map(tried_high),
        width=rows["best_volume_high"] / rows["best_volume_low"],
    )
    wanted = rows[(rows["call"] == "not known") | (rows["width"] > WIDE)]
    return wanted.sort_values(["width", "name"], ascending=[False, True]).reset_index(drop=True)


def what_helps(row: Row, fit: KeptFit, unit: str) -> tuple[str, str]:
    """Return what would help for one row of `data_wanted`, and why."""
    if not row["sessions"]:
        return next_data(row), "Nothing has been measured: all that is known is the squad."
    if row["tried_high"] < ALIKE * row["tried_low"]:
        return (
            "Other volumes: about half and twice as much, or a fade test.",
            f"Nine in ten of {counted(row['efforts'], 'effort')} came after"
            f" {between(row['tried_low'], row['tried_high'])} {unit}: one volume shows no curve.",
        )
    if not row["fade_tests"]:
        return (
            next_data(row),
            f"Nothing was tried beyond {number(row['largest_volume'])} {unit} in"
            f" {counted(row['sessions'], 'session')}.",
        )
    if row["reach"] != "inside":
        return (
            next_data(row),
            f"The best lies between {estimate_ends(row)} {unit}, {row['reach']} what was tried in"
            f" {counted(row['sessions'], 'session')}.",
        )
    if _on_the_limit(row, fit):
        return (
            "More of the same will change little: the standard and the advised will both do.",
            f"The standard {number(fit.standard_volume)} costs"
            f" {estimated_percent(row, 'loss_at_standard_pct')} after"
            f" {counted(row['sessions'], 'session')}: about as much as is worth having,"
            f" {percent(fit.worthwhile_pct)}.",
        )
    call = "" if row["call"] == "not known" else f", though the call is {row['call']}"
    return (
        next_data(row),
        f"{counted(row['sessions'], 'session')} leave the best between"
        f" {estimate_ends(row)} {unit}{call}.",
    )


def _on_the_limit(row: Row, fit: KeptFit) -> bool:
    """Tell whether much is known, but the interval of the loss contains the limit of a call."""
    straddles = row["loss_at_standard_pct_low"] < fit.worthwhile_pct
    straddles &= row["loss_at_standard_pct_high"] > fit.worthwhile_pct
    return bool(row["sessions"] >= MANY_SESSIONS and row["width"] <= WIDE and straddles)


def wanted_sentence(rows: pd.DataFrame) -> str:
    """Return how many athletes `wanted_table` lists, and why."""
    unknown = int((rows["call"] == "not known").sum())
    wide = len(rows) - unknown
    told = [f"{counted(unknown, 'athlete')} without a firm call"] if unknown else []
    if wide:
        told.append(
            f"{counted(wide, 'athlete')} with a call but an interval whose ends differ by more"
            f" than a factor of {number(WIDE)}"
        )
    return f"{listed(told).capitalize()}, the least known first."


def wanted_table(rows: pd.DataFrame, fit: KeptFit, unit: str) -> pd.DataFrame:
    """Return `data_wanted` as people read it; cells are Markdown, so names are escaped."""
    helps = [what_helps(row, fit, unit) for row in rows.to_dict("records")]
    return pd.DataFrame(
        {
            "athlete": rows["name"].map(_as_written),
            "what would help": [what for what, _ in helps],
            "why": [why for _, why in helps],
        }
    )


def _as_written(name: str) -> str:
    return re.sub(r"([^\w\s])", r"\\\1", name)


def next_data(row: Row) -> str:
    """Return what to collect next for one row of `dashboard.trust.data_wanted.data_wanted`."""
    if not row["sessions"]:
        return "Start with a fade test."
    if not row["fade_tests"]:
        return "One fade test would show where the fall begins."
    if row["reach"] == "beyond":
        return "A longer fade test: still improving at the most that was tried."
    if row["reach"] == "below":
        return "A few efforts after a very short warm-up: past the best at the least tried."
    return "Routine sessions on both sides of the standard: one shorter, one longer."
