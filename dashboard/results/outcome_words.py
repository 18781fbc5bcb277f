"""Plain sentences on how plans were followed and what came of it."""

from __future__ import annotations

import pandas as pd

from dashboard.core.numbers import counted, percent, percent_with_interval, signed, volume
from dashboard.results.plan_outcomes import KINDS, Outcomes
from modeling.trial.clustered_mean import CountedMean

NO_EXPERIMENT = (
    "Nobody was assigned by chance, so this is no experiment: a hurried, sore or tired athlete does"
    " something else, and that alone makes a start better or worse. A trial, below, can tell."
)
LEVEL = (
    "A start is compared with the athlete's level in the sessions of other days, within four weeks"
    " of it: what the model says they would have shown at the peak then."
)
NOT_RECORDED = "Save what was done on the page Today, and see here what came of it."
SAID = {
    "as planned": "as planned",
    "changed": "changed",
    "skipped": "skipped",
    "not recorded": "not recorded yet",
}
NAMES = {
    "followed": "plan followed",
    "not followed": "not followed",
    "inside": "inside the good range",
    "outside": "outside the good range",
}
STARTS = {"followed": "after followed plans", "inside": "inside the good range"}
AFTER = {
    "followed": "After plans that were followed",
    "not followed": "After plans that were not followed",
    "inside": "Inside the own good range",
    "outside": "Outside it",
}


def headline(rows: pd.DataFrame) -> str:
    """Return how many plans were done as planned, of those with a record of what was done."""
    known = rows[rows["followed"].notna()]
    if known.empty:
        return f"{counted(len(rows), 'plan')}, and what was done of none is recorded yet"
    followed = int((known["followed"] == "followed").sum())
    return f"{followed} of {counted(len(known), 'recorded plan')} done as planned"


def shares_sentence(rows: pd.DataFrame, unit: str) -> str:
    """Return how plans were followed, by count and share, and by how much they were changed."""
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
    """Return what came of each kind of plan, and how many could not be compared."""
    rows = found.rows
    known = rows[rows["followed"].notna()]
    if known.empty:
        return [NOT_RECORDED]
    told = [_mean_sentence(kind, found) for kind in KINDS[found.by]]
    if found.within is not None:
        told.append(_within_sentence(found, found.within))
    compared = known["against_level_pct"].notna() & known[found.by].notna()
    if left_out := int((~compared).sum()):
        needs = "and sessions of other days in the curves"
        if found.by == "range":
            needs = "sessions of other days in the curves, and a good range"
        told.append(
            f"{counted(left_out, 'recorded plan')} could not be compared: each needs a start value,"
            f" {needs}."
        )
    return told


def range_answer(found: Outcomes) -> str:
    """Return in one line whether starts were better inside the athlete's good range."""
    within = found.within
    if within is None:
        return "Are starts better inside the good range? Too few to tell"
    if within.mean.low > 0:
        return f"Starts were {percent(within.mean.median)} better inside the good range"
    if within.mean.high < 0:
        return f"Starts were {percent(-within.mean.median)} worse inside the good range"
    return "Starts inside and outside the good range: no clear difference"


def _within_sentence(found: Outcomes, within: CountedMean) -> str:
    first, _ = KINDS[found.by]
    told = (
        f"In the {counted(within.values, 'athlete')} with both, starts {STARTS[first]} were"
        f" {_interval(within)} better than their others"
    )
    if found.expected is not None:
        told += f"; the curves expect {percent(found.expected)}"
    least = (within.mean.high - within.mean.low) / 2
    return f"{told}. With so few starts only {percent(least)} or more would stand out."


def _mean_sentence(kind: str, found: Outcomes) -> str:
    rows = found.rows
    count = int((rows["against_level_pct"].notna() & (rows[found.by] == kind)).sum())
    if not count:
        return ""
    if kind not in found.means:
        return f"{AFTER[kind]}: {counted(count, 'start')}; an interval needs two."
    mean = found.means[kind]
    return (
        f"{AFTER[kind]}, starts were {_interval(mean)} against the athlete's level;"
        f" 90\u00a0% interval in brackets, {counted(mean.values, 'start')} of"
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
