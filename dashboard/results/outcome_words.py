"""Plain sentences on how plans were followed and what came of it."""

from __future__ import annotations

import pandas as pd

from dashboard.core.numbers import counted, percent, percent_with_interval, signed, volume
from dashboard.results.plan_outcomes import Outcomes
from modeling.trial.clustered_mean import CountedMean

NO_EXPERIMENT = (
    "This is no experiment. Nobody drew by lot who followed the plan: a hurried, sore or tired"
    " athlete changes it, and that alone makes a start better or worse. A trial, below, can tell."
)
LEVEL = (
    "The level of a day is what the model expects of that athlete at the peak then, from all"
    " efforts of the session; with few efforts it leans on the curve."
)
NOT_RECORDED = (
    "What came of them can be told once it is recorded what was done: after the day, on the page"
    " Before the session."
)
SAID = {
    "as planned": "as planned",
    "changed": "changed",
    "skipped": "skipped",
    "not recorded": "not recorded yet",
}
NAMES = {"followed": "plan followed", "not followed": "not followed"}


def headline(rows: pd.DataFrame) -> str:
    """Return how many of the plans whose doing is known were done as planned."""
    known = rows[rows["followed"].notna()]
    if known.empty:
        return f"{counted(len(rows), 'plan')}, and what was done of none is recorded yet"
    followed = int((known["followed"] == "followed").sum())
    return f"{followed} of {counted(len(known), 'recorded plan')} done as planned"


def shares_sentence(rows: pd.DataFrame, unit: str) -> str:
    """Return how plans up to today were followed, by count and share, and how far changed."""
    counts, changed = rows["done"].value_counts(), rows.loc[rows["done"] == "changed", "moved"]
    how_far = ""
    if not changed.empty:
        low, high = changed.min(), changed.max()
        ends = signed(low, 3) if low == high else f"{signed(low, 3)} to {signed(high, 3)}"
        how_far = f", by {ends} {unit}, median {signed(changed.median(), 3)}"
    parts = []
    for word, said in SAID.items():
        if count := int(counts.get(word, 0)):
            more = how_far if word == "changed" else ""
            parts.append(f"{count} {said} ({percent(100 * count / len(rows), 0)}{more})")
    return f"Of {counted(len(rows), 'plan')} up to today: {', '.join(parts)}."


def outcome_sentences(found: Outcomes) -> list[str]:
    """Return what came of plans, followed or not, and how many could not be compared."""
    rows = found.rows
    known = rows[rows["followed"].notna()]
    if known.empty:
        return [NOT_RECORDED]
    told = [_mean_sentence(kind, found) for kind in NAMES]
    if found.within is not None:
        told.append(
            f"In the {counted(found.within.values, 'athlete')} who have both, starts after followed"
            f" plans stood {_interval(found.within)} against their others."
        )
    left_out = int(known["against_level_pct"].isna().sum())
    if left_out:
        told.append(
            f"{counted(left_out, 'recorded plan')} could not be compared: a start value is needed,"
            " and a session of that day that is in the curves."
        )
    return told


def _mean_sentence(kind: str, found: Outcomes) -> str:
    rows = found.rows
    count = int((rows["against_level_pct"].notna() & (rows["followed"] == kind)).sum())
    if not count:
        return ""
    if kind not in found.means:
        return f"After plans {kind}: {counted(count, 'start value')}; an interval needs two."
    mean = found.means[kind]
    return (
        f"After plans {kind}, the start was {_interval(mean)} against the form of the day;"
        f" 90\u00a0% interval in brackets, {counted(mean.values, 'start value')} of"
        f" {counted(mean.groups, 'athlete')}."
    )


def mean_rows(found: Outcomes) -> pd.DataFrame:
    """Return the means as rows of a figure: `name`, `value`, `low`, `high`."""
    return pd.DataFrame(
        {
            "name": f"{NAMES[kind]}: {counted(mean.values, 'start')}",
            "value": mean.mean.median,
            "low": mean.mean.low,
            "high": mean.mean.high,
        }
        for kind, mean in found.means.items()
    )


def set_as_advised(rows: pd.DataFrame, unit: str) -> str:
    """Return how many plans were set at the length advised then."""
    advised = rows[rows["advised_volume"].notna()]
    if advised.empty:
        return ""
    same = advised["chosen_volume"] == advised["advised_volume"]
    off = (advised["chosen_volume"] - advised["advised_volume"])[~same].abs()
    how_far = f"; the others differ by {volume(off.median(), unit)}, median" if len(off) else ""
    return f"Set at the length that was advised then: {int(same.sum())} of {len(advised)}{how_far}."


def _interval(mean: CountedMean) -> str:
    return percent_with_interval(mean.mean.median, mean.mean.low, mean.mean.high)
