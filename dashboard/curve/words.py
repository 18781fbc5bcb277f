"""Plain sentences about one athlete's curve: no number without its interval or its count."""

from __future__ import annotations

from collections.abc import Sequence
from math import isnan

from dashboard.core import dates
from dashboard.core.cautions import FADE_TEST, FILL_UP
from dashboard.core.numbers import (
    between,
    chance,
    estimate_ends,
    estimated_percent,
    estimated_volume,
    evidence,
    number,
    volume,
)
from dashboard.fits.curve_rows import CurveRow


def headline(row: CurveRow, standard: float, to_athlete: bool = False) -> str:
    """Return the message of one athlete's curve in one line."""
    you, your = ("you are", "your") if to_athlete else ("", "the")
    at = number(standard)
    if isnan(row.get("length", 0.0)):
        return "No length at the moment: this is what is known of the curve"
    if not row["sessions"]:
        return "Not tested yet: this is what the squad as a whole suggests"
    sentences = {
        "long": f"Warm up longer: {you} still getting better at {at}",
        "short": f"Stop sooner: {you} past {your} best by {at}",
        "either": f"Keep {at}: no other length is clearly better",
        "not known": f"Not known yet: {evidence(row)} are too few to call it shorter or longer",
    }
    return " ".join(sentences[row["call"]].split())


def best_sentence(row: CurveRow, unit: str) -> str:
    """Return where the curve peaks, with its interval and how much data is behind it."""
    return (
        f"Best after {estimated_volume(row)} {unit}; 90\u00a0% interval in brackets,"
        f" from {evidence(row)}."
    )


def length_sentence(row: CurveRow, standard: float, unit: str) -> str:
    """Return how much to do, why, and what is lost."""
    lost = row.get("lost_pct")
    costs = "" if lost is None or isnan(lost) else f" {estimated_percent(row, 'lost_pct')} is lost."
    why = {
        "either": f"the standard {number(standard)} is as good",
        "not known": "the standard, as nobody knows better yet",
    }.get(row["call"], f"not the standard {number(standard)}")
    return f"Length: {volume(row['length'], unit)}, {why}.{limit_sentence(row)}{costs}"


def limit_sentence(row: CurveRow) -> str:
    """Return what limits a length, else nothing."""
    if row["limited_by"] is None:
        return ""
    wanted, own = row["wanted_volume"], row["call"] in ("short", "long")
    return f" {limited(row['limited_by'], wanted, row['most_allowed'], own)}"


def limited(by: str, wanted: float, most: float, own: bool = True) -> str:
    """Return what limits a length: the most allowed, or the most done so far.

    `wanted` is what the curve asks for, or the standard if the athlete has no own length. It is
    never called the best volume, which is where the curve peaks.
    """
    asked = number(round(wanted))
    best = f"{asked} would be better" if own else f"The standard is {asked}"
    if by == "club":
        return f"{best}; capped at {number(most)}, the most allowed. {FILL_UP}"
    return f"{best}; step by step, at most a quarter over the most done so far."


def good_range_sentence(row: CurveRow, unit: str) -> str:
    """Return the good range, else nothing."""
    if row["good_from"] is None or isnan(row["good_from"]):
        return ""
    return f"Good range: {between(row['good_from'], row['good_to'])} {unit}."


def loss_sentence(row: CurveRow, standard: float) -> str:
    """Return what is lost at the standard against the peak."""
    return (
        f"At the standard {number(standard)},"
        f" {estimated_percent(row, 'loss_at_standard_pct')} is lost."
    )


def gain_sentence(row: CurveRow) -> str:
    """Return how much the warm-up is worth from cold to peak."""
    return f"From cold to peak: {estimated_percent(row, 'gain_pct')}."


def hold_sentence(row: CurveRow, unit: str) -> str:
    """Return how long the peak holds."""
    return (
        f"After the peak, performance is down 10\u00a0% after another"
        f" {estimated_volume(row, 'hold_volume')} {unit}."
    )


def chances_sentence(row: CurveRow, standard: float) -> str:
    """Return how sure the call is, as the chances of the three answers."""
    return (
        f"How sure: {chance(row['chance_long'])} that longer than {number(standard)} is better,"
        f" {chance(row['chance_short'])} that shorter is better,"
        f" {chance(row['chance_either'])} that it makes no real difference."
    )


def own_length_sentence(row: CurveRow, unit: str) -> str:
    """Return where an athlete's best volume lies, and how much data is behind it."""
    return (
        f"Your best lies somewhere between {estimate_ends(row)} {unit}"
        f" (90\u00a0% sure), from {evidence(row)}."
    )


def own_sentences(row: CurveRow, standard: float, unit: str) -> list[str]:
    """Return what an athlete's own curve means, in plain words for the athlete."""
    told = [
        f"At the standard {number(standard)} you lose"
        f" {estimated_percent(row, 'loss_at_standard_pct')} against your best.",
        f"Warming up is worth {estimated_percent(row, 'gain_pct')} to you, from cold to your best.",
        f"After your best you are down 10\u00a0% after another"
        f" {estimated_volume(row, 'hold_volume')} {unit}.",
        chances_sentence(row, standard),
        reach_sentence(row, unit),
    ]
    if not row["sessions"]:
        told = [
            f"The squad as a whole is best after {estimated_volume(row)} {unit}; nothing of"
            " yours has been measured, so it may be quite different for you.",
            f"To find your own length, ask your coach for {FADE_TEST}.",
        ]
    return [sentence for sentence in told if sentence]


def history_sentence(fits: Sequence[CurveRow], unit: str) -> str:
    """Return how an athlete's best volume moved from the oldest fit to the newest."""
    steps = [
        f"{dates.day(row['fitted_at'])}: {estimated_volume(row)}, {row['call']}" for row in fits
    ]
    return f"Best volume in {unit} with its 90\u00a0% interval, and the call. {'; '.join(steps)}."


def reach_sentence(row: CurveRow, unit: str) -> str:
    """Return a caution when the peak lies outside what was tried, else nothing."""
    return {
        "below": f"The peak lies below the fewest {unit} tried: measure after fewer.",
        "beyond": f"The peak lies beyond the most {unit} tried: a longer test would show it.",
    }.get(row["reach"], "")


def how_to_read_curve(row: CurveRow) -> str:
    """Return the line under the title of one athlete's curve."""
    if not row["sessions"]:
        return "the squad's curve with its full spread · band: 90\u00a0%"
    return f"{evidence(row)} · points: every effort, each day at its own level · band: 90\u00a0%"


def curve_in_words(row: CurveRow, standard: float, unit: str) -> str:
    """Return the text equivalent of one athlete's curve."""
    parts = (
        best_sentence(row, unit),
        gain_sentence(row),
        loss_sentence(row, standard),
        hold_sentence(row, unit),
        reach_sentence(row, unit),
    )
    return " ".join(part for part in parts if part)
