"""What bar speeds say about loads, by an athlete's own line, else by matching published ones."""

from __future__ import annotations

import pandas as pd

from dashboard.core import dates, numbers
from dashboard.lifting.own_lines import OwnLine
from dashboard.lifting.parts import ExercisePart
from dashboard.lifting.plates import from_kg, load_text
from modeling.errors import ModelError
from modeling.estimate import Estimate
from modeling.lifting.published_speeds import BENCH_PRESS, FULL_SQUAT, PARALLEL_SQUAT, PublishedLine
from modeling.lifting.working_sets import STRENGTH_SHARE

TOO_HEAVY = (
    "Mean speeds read on a line of mean propulsive speed, or a free bar on one of a guided bar,"
    " make loads look too heavy."
)
PUBLISHED_LINES: dict[str, tuple[tuple[str, PublishedLine], ...]] = {
    "back_squat": (("parallel squat", PARALLEL_SQUAT), ("full squat", FULL_SQUAT)),
    "bench_press": (("bench press", BENCH_PRESS),),
}


def line_sentences(own: OwnLine, unit: str) -> list[str]:
    """Return what an athlete's own load-velocity line says, with intervals and counts."""
    line = own.line
    behind = (
        f"{numbers.counted(line.sets, 'set')} on {numbers.counted(line.days, 'day')}, the level"
        f" that of {dates.day(own.day, 'long')} ({numbers.counted(line.day_sets, 'set')})"
    )
    told = [
        f"Own load-velocity line of {own.speed_kind} speed: {behind}. On that day"
        f" {100 * STRENGTH_SHARE:.0f}\u00a0% of the maximum is {_loads(own.work_from, unit)},"
        " where the bar moves at"
        f" {numbers.decimal(own.work_speed, 2)}\u00a0m/s; the maximum is where it moves at"
        f" {numbers.decimal(own.minimum.speed, 2)} ± {numbers.decimal(own.minimum.sd, 2)}\u00a0m/s"
        f" ({own.minimum.source}):"
        f" {_loads(own.maximum, unit)}.",
    ]
    if line.heaviest < STRENGTH_SHARE * own.maximum.median:
        told.append(
            f"The heaviest of these sets is {load_text(round(line.heaviest, 1), unit)}: the"
            " maximum lies far beyond it, and the line may bend. In free-weight full squats such"
            " lines were 7\u00a0% off on average and leaned to one side (Banyard 2017)."
        )
    return told


def target_sentence(own: OwnLine, speed: float, unit: str) -> str:
    """Return the load at which the bar moves at a target speed, by the athlete's own line."""
    try:
        load = own.line.load_at(speed)
    except ModelError as error:
        return str(error)
    return f"The bar moves at {numbers.decimal(speed, 2)}\u00a0m/s with {_loads(load, unit)}."


def _loads(estimate: Estimate, unit: str) -> str:
    ends = numbers.between(estimate.low, estimate.high, 1)
    return f"{numbers.decimal(estimate.median, 1)} ({ends})\u00a0{unit}"


def published_sentences(part: ExercisePart, unit: str) -> list[str]:
    """Return what the newest set says by published lines, if the athlete has no own line yet."""
    lines = PUBLISHED_LINES.get(part.planned.exercise, ())
    if part.own_line is not None or part.sets.empty or not lines:
        return []
    newest = part.sets.iloc[-1]
    bar = None if pd.isna(newest["bar"]) else str(newest["bar"])
    measured = f"{newest['speed_kind']} speed of {_bar_words(bar)}"
    told = []
    for lift, line in lines:
        of_line = f"{line.speed_kind} speed of {_bar_words(line.bar)}"
        if not line.matches(str(newest["speed_kind"]), bar):
            told.append(
                f"The line of a {lift} ({line.source}) is of {of_line}, these sets are of"
                f" {measured}: it is not read here. {TOO_HEAVY}"
            )
            continue
        try:
            share = line.share_pct(newest["bar_speed_m_s"])
        except ModelError:
            continue
        memory = ", coefficients from memory" if line.from_memory else ""
        told.append(
            f"{numbers.decimal(newest['bar_speed_m_s'], 2)}\u00a0m/s with"
            f" {load_text(from_kg(newest['load_kg'], unit), unit)} is about"
            f" {numbers.percent(share, 0)} of the maximum in a {lift}, by the line of a group:"
            f" {of_line} ({line.source}{memory}). {TOO_HEAVY} People differ widely; the athlete's"
            " own sets say more."
        )
    return told


def _bar_words(bar: str | None) -> str:
    return "a bar that nobody described" if bar is None else f"a {bar} bar"
