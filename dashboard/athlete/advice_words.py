"""Sentences and rows of the advice for today: what to do, why, and what other lengths lose."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import pandas as pd

from dashboard.core.cautions import CAUTION, FILL_UP
from dashboard.core.numbers import between, counted, number, percent, percent_with_interval, volume
from dashboard.curve.words import limited
from dashboard.game.prevention_words import PREVENTION
from dashboard.game.substitute_words import EASY, FIRST, again_words
from dashboard.rules.protocol_words import BUILD_UP
from dashboard.rules.test_days import minor_sentence
from dashboard.rules.weather_words import air
from modeling.day.caution import HOT_C

OTHER_NAMES = {"standard": "the standard", "none": "the general part only"}

if TYPE_CHECKING:
    from modeling.day.bench_time import BenchTime
    from modeling.day.demand import Demand
    from modeling.day.goal_advice import Advice, Alternative
    from modeling.estimate import Estimate


def advice_sentences(advice: Advice, unit: str) -> list[str]:
    """Return what is lost with the length, why it is that long, and what it rests on."""
    efforts = advice.to_follow.efforts
    over = "" if efforts == 1 else f" on average over {counted(efforts, 'efforts')}"
    behind = counted(advice.sessions, "session") if advice.sessions else "the squad's curve"
    good = advice.good_range
    told = [
        f"{_estimate(advice.lost_pct)} is lost{over} against the athlete's own best;"
        f" 90\u00a0% interval in brackets, from {behind}.",
        reason(advice, unit),
        "" if good is None else f"Good range on a usual day: {between(*good)} {unit}.",
    ]
    return [sentence for sentence in told if sentence]


def reason(advice: Advice, unit: str) -> str:
    """Return what decides the length, what limits it, and what is done after a long wait."""
    length = advice.length
    kept_short = length.wanted > advice.volume + length.top_up <= advice.alternatives[0].volume
    why = {
        "short": "The athlete is past the best at the standard, so this is shorter.",
        "long": "The athlete is still getting better at the standard"
        + ("." if kept_short else ", so this is longer."),
        "either": "The standard is as good: no other length is clearly better.",
        "not known": "Not known yet whether another length is better"
        + (", so the standard stays." if advice.volume == round(length.wanted) else "."),
    }[advice.call]
    if length.because == "day" and not length.limited_by:
        why += f" Today's circumstances make it {number(round(length.wanted))}."
    if length.limited_by:
        own = advice.call in ("short", "long") or length.because == "day"
        most = advice.volume + length.top_up
        today = "In today's circumstances: " if length.because == "day" else ""
        told = limited(length.limited_by, length.wanted, most, own)
        if advice.around.ambient_c >= HOT_C:
            # In the heat, filling up with easy efforts would heat the athlete up further.
            told = told.removesuffix(f" {FILL_UP}")
        why += f" {today}{told[0].lower() if today else told[0]}{told[1:]}"
    elif length.top_up and advice.volume < round(length.wanted):
        whole, later = number(advice.volume + length.top_up), number(length.top_up)
        why += f" Of the {whole} that may be done, {later} are kept for shortly before the start."
    return why


def whole_reason(advice: Advice, unit: str) -> str:
    """Return the reason, with what is done again after a long wait."""
    again = again_words(advice.length.top_up)
    return reason(advice, unit) + (f" After the wait {again}." if again else "")


def headline(advice: Advice, unit: str) -> str:
    """Return how much to do, and what is done again after a long wait."""
    again = again_words(advice.length.top_up)
    return volume(advice.volume, unit) + (f", after the wait {again}" if again else "")


def safety_sentences(name: str, minor: bool, ambient_c: float) -> list[str]:
    """Return what to mind whatever the length: age, heat and cold, prevention, when to stop."""
    told = [minor_sentence([name] if minor else []), air(ambient_c), PREVENTION, BUILD_UP, CAUTION]
    return [sentence for sentence in told if sentence]


def alternatives_table(advice: Advice) -> pd.DataFrame:
    """Return other lengths and what is lost with each against the athlete's own best."""
    others = _others(advice)
    return pd.DataFrame(
        {
            "other length": [_name(other, advice) for other in others],
            "do": [number(other.volume) for other in others],
            "lost": [percent(other.lost_pct.median) for other in others],
            "90 %": [between(other.lost_pct.low, other.lost_pct.high, 1) for other in others],
        }
    )


def alternative_sentences(advice: Advice, unit: str) -> list[str]:
    """Return what `alternatives_table` says, one line for each other length."""
    return [
        f"Instead {_name(other, advice)}"
        + (f", {volume(other.volume, unit)}" if other.volume else "")
        + f": {_estimate(other.lost_pct)} lost."
        for other in _others(advice)
    ]


def _others(advice: Advice) -> list[Alternative]:
    """Return the lengths that differ from the one advised."""
    same = advice.volume if not advice.length.top_up else None
    return [other for other in advice.alternatives if other.volume != same]


def _name(other: Alternative, advice: Advice) -> str:
    """Return the name of another length, which repeats nothing after a long wait."""
    name = OTHER_NAMES.get(other.name, other.name)
    return f"{name} and nothing again" if advice.length.top_up else name


def bench_table(rows: Sequence[BenchTime], unit: str) -> pd.DataFrame:
    """Return what is lost after a rest, and how much to do again."""
    return pd.DataFrame(
        {
            "minutes of rest": [number(row.rest_minutes) for row in rows],
            "lost": [percent(row.cost_pct.median) for row in rows],
            "90 %": [between(row.cost_pct.low, row.cost_pct.high, 1) for row in rows],
            "do again": [EASY if not row.volume else volume(row.volume, unit) for row in rows],
        }
    )


def bench_sentence(done: float, worthwhile_pct: float, unit: str) -> str:
    """Return what the table of rests is about."""
    return (
        f"After {volume(done, unit)} and a rest: what is lost by going on at once, and what to do"
        f" again to lose no more than {percent(worthwhile_pct)} against the athlete's own best."
        f" {FIRST}"
    )


def demand_sentence(demand: Demand, recovery_seconds: float | None = None) -> str:
    """Return where 10 % is lost and what to condition for, if the recovery is given.

    Without it neither can be said, because a game leaves time between two efforts.
    """
    if recovery_seconds is None:
        return (
            "This is for one effort straight after another. Enter the recovery between two of them"
            " to see where 10\u00a0% is lost."
        )
    asked = len(demand.effort)
    lost = demand.lost_at
    between_two = f"With {number(recovery_seconds)}\u00a0s between two: down"
    sure = f"the chance of that within the {asked} is {percent(100 * demand.chance_lost, 0)}"
    if lost.median > asked:
        never = f"not expected within the {counted(asked, 'efforts')} asked for"
        return f"{between_two} 10\u00a0% is {never}; {sure}."
    return (
        f"{between_two} 10\u00a0% at effort {lost.median:.0f}"
        f" ({between(lost.low, lost.high)}) of the {asked} asked for; {sure}."
        f" Condition for the last {demand.shortfall}."
    )


def _estimate(value: Estimate) -> str:
    return percent_with_interval(value.median, value.low, value.high)
