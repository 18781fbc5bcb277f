"""Plain sentences on a trial of two lengths with one athlete."""

from __future__ import annotations

import pandas as pd

from dashboard.core.numbers import (
    chance,
    counted,
    number,
    percent,
    percent_with_interval,
    volume,
    whole,
)
from dashboard.results.trials import MOST_BLOCKS, Trial
from modeling import Estimate
from modeling.trial.paired_trial import ALL_ORDERS_UP_TO, TrialResult
from modeling.trial.trial_outlook import ExpectedDifference, blocks_needed, interval_reach_pct

WHAT_IT_IS = (
    "The athlete does both lengths, each once in every block of two sessions, in an order drawn by"
    " lot. Form, weather and season then fall on both alike, and what is left between them is the"
    " length. Keep all else as it is: the same general part, rest and hour."
)
RARE = 0.05


def outlook_sentences(
    expected: ExpectedDifference | None,
    lengths: tuple[float, float],
    noise_pct: float | None,
    blocks: int,
    unit: str,
) -> list[str]:
    """Return what the model expects of a trial, how wide its interval will be, and if it is enough.

    `noise_pct` is the noise of one start value on one day; None if it is not known yet.
    """
    told = [model_sentence(expected, lengths, unit)]
    if noise_pct is None:
        return [sentence for sentence in told if sentence]
    reach = interval_reach_pct(noise_pct, blocks)
    told.append(
        f"A start value moves by about {percent(noise_pct)} from day to day (its typical error), so"
        f" {counted(blocks, 'block')} will tell the difference to about"
        f" \u00b1{percent(reach)} (90\u00a0% interval)."
    )
    if expected is not None and reach > abs(expected.difference_pct.median):
        needed = blocks_needed(expected.difference_pct.median, noise_pct, MOST_BLOCKS)
        told.append(
            "That is wider than the difference that is expected, so most likely it will not be"
            " clear. "
            + (
                f"{counted(needed, 'block')} would be about enough."
                if needed
                else f"Not even {MOST_BLOCKS} blocks would be enough: compare lengths further apart"
                " or do without a trial."
            )
        )
    return [sentence for sentence in told if sentence]


def model_sentence(
    expected: ExpectedDifference | None, lengths: tuple[float, float], unit: str
) -> str:
    """Return what the athlete's curve says about the two lengths."""
    if expected is None:
        return "The curves hold no view of this athlete to set beside it yet."
    return (
        f"The model's own view: after {volume(lengths[1], unit)} against"
        f" {number(lengths[0])}, {_estimate(expected.difference_pct)}; chance that"
        f" {number(lengths[1])} is better: {chance(expected.chance_second)}; from"
        f" {_behind(expected)}."
    )


def progress_sentence(trial: Trial, unit: str) -> str:
    """Return which lengths are compared, and how far the trial has got."""
    state = "" if trial.running else " It is over."
    if not trial.running and trial.recorded < len(trial.sessions):
        state = " It was ended early."
    return (
        f"{number(trial.first_volume)} against {volume(trial.second_volume, unit)} in"
        f" {counted(trial.blocks, 'block')}: {trial.recorded} of {len(trial.sessions)} sessions"
        f" have a start value.{state}"
    )


def next_sentence(trial: Trial, unit: str) -> str:
    """Return what the next session of a trial is, or that none is left to set."""
    row = trial.next_to_set()
    if row is None:
        return "Every session is set for a day."
    return (
        f"Next, session {int(row['place'])} of {len(trial.sessions)}:"
        f" {volume(row['volume'], unit)}. It was drawn by lot: do it as it stands."
    )


def headline(result: TrialResult | None, trial: Trial, unit: str) -> str:
    """Return the message of a trial in one line."""
    if result is None:
        return "Nothing can be said yet"
    estimate = result.difference_pct
    so_far = " so far" if trial.running else ""
    if estimate.low <= 0 <= estimate.high:
        return f"No clear difference{so_far}"
    better = volume(trial.second_volume if estimate.median > 0 else trial.first_volume, unit)
    if result.share_as_large > RARE:
        return f"Points to {better}{so_far}, from too few blocks to be sure"
    return f"Better{so_far} after {better}"


def result_sentences(result: TrialResult | None, trial: Trial, unit: str) -> list[str]:
    """Return what the complete blocks say: interval, randomisation test, and how weak that is."""
    if result is None:
        return ["Two blocks must be complete before there is an interval, six before it says much."]
    first, second = number(trial.first_volume), number(trial.second_volume)
    told = [
        f"After {second} {unit} against {first}: {_estimate(result.difference_pct)}, from"
        f" {counted(result.blocks, 'complete block')}; 90\u00a0% interval in brackets, above 0 is"
        f" better after {second}. Chance that {second} is better:"
        f" {chance(result.chance_second)}, with no view beforehand.",
        "If the length made no difference, the luck of the draw would bring a difference as large"
        f" in {_share(result.share_as_large, result.blocks)} orders that might have been drawn.",
    ]
    if result.smallest_share > RARE:
        told.append(
            f"{counted(result.blocks, 'block')} are few: that share can never be below"
            f" {_share(result.smallest_share, result.blocks)}, however clear the difference looks."
            f" Six blocks can bring it to {_share(2.0**-5, 6)}."
        )
    if trial.otherwise:
        told.append(
            f"{counted(trial.otherwise, 'session')} went otherwise than drawn. Each still counts"
            " for the length that was drawn: to move or drop it would let choice in again."
        )
    return told


def apart_sentence(result: TrialResult | None, expected: ExpectedDifference | None) -> str:
    """Return a caution if the intervals of trial and model don't overlap; empty if they do."""
    if result is None or expected is None:
        return ""
    one, other = result.difference_pct, expected.difference_pct
    if one.low <= other.high and other.low <= one.high:
        return ""
    return (
        "Trial and model disagree by more than their intervals. Ask how the sessions went, and work"
        " the curves out again once these sessions are in."
    )


def result_rows(result: TrialResult | None, expected: ExpectedDifference | None) -> pd.DataFrame:
    """Return trial and model as rows of a figure: `name`, `value`, `low`, `high`."""
    found: list[tuple[str, Estimate]] = []
    if result is not None:
        found.append((f"this trial: {counted(result.blocks, 'block')}", result.difference_pct))
    if expected is not None:
        found.append((f"the model: {_behind(expected)}", expected.difference_pct))
    return pd.DataFrame(
        [(name, each.median, each.low, each.high) for name, each in found],
        columns=["name", "value", "low", "high"],
    )


def _behind(expected: ExpectedDifference) -> str:
    return counted(expected.sessions, "session") if expected.sessions else "the squad's curve"


def _share(share: float, blocks: int) -> str:
    """Return a share of all orders as a count, or in % if there are too many to count."""
    orders = 2**blocks
    if blocks > ALL_ORDERS_UP_TO:
        return percent(100.0 * share)
    return f"{whole(round(share * orders))} of {whole(orders)}"


def _estimate(estimate: Estimate) -> str:
    return percent_with_interval(estimate.median, estimate.low, estimate.high)
