"""What the page and the sheet of a session plan say."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from dashboard import dates, numbers
from dashboard.plates import each_side_text, from_kg, load_text
from dashboard.session_parts import ExercisePart, OwnLine, SessionParts
from db.session_plans import PlannedExercise, SessionPlan
from modeling.errors import ModelError
from modeling.estimate import Estimate
from modeling.general_part import PLANES
from modeling.published_speeds import BENCH_PRESS, FULL_SQUAT, PARALLEL_SQUAT, PublishedLine
from modeling.ramp_sets import WORK_SHARE

OWN_WARM_UPS = {
    "full": "Own warm-up",
    "practice": "Practice sets",
    "some": "A short warm-up of its own",
    "none": "No warm-up of its own",
}
BUILD_UP = {
    "full": "Build up from easy to full effort.",
    "practice": "A few easy repetitions until it moves well.",
    "some": "Two or three easy repetitions.",
    "none": "",
}
READINESS = {
    "joints": "Joints feel good",
    "positions": "The positions are reached",
    "fresh": "Feels fresh",
    "peak": "Speed or power rises no more from set to set",
}
NOT_YET = "Until all four hold, every set is a warm-up set."
READY = "All four hold: the next set is the first working set."
GROWTH_EARLY = (
    "For growth work the warm-up may end a little early, as long as it costs none of the sets that"
    " follow."
)
HEAVY_CAUTION = (
    "Heavy lifts are for cleared, uninjured, supervised athletes who know the movement. Pain,"
    " dizziness or loss of control: stop, whatever the screen says."
)
PUBLISHED_LINES: dict[str, tuple[tuple[str, PublishedLine], ...]] = {
    "back_squat": (("parallel squat", PARALLEL_SQUAT), ("full squat", FULL_SQUAT)),
    "bench_press": (("bench press", BENCH_PRESS),),
}


def work_sentence(planned: PlannedExercise, unit: str) -> str:
    """Return what is to be done: `strength: 3 sets of 5 at 100 kg`."""
    sets = f"{numbers.counted(planned.working_sets, 'set')} of {planned.repetitions}"
    at = "" if planned.load is None else f" at {load_text(planned.load, unit)}"
    return f"{planned.goal}: {sets}{at}"


def own_sentence(part: ExercisePart) -> str:
    """Return how much of a warm-up the exercise gets of its own, and why."""
    build_up = "" if part.ramp else BUILD_UP[part.own.how]
    return f"**{OWN_WARM_UPS[part.own.how]}.** {part.own.reason} {build_up}".rstrip()


def ramp_table(part: ExercisePart, unit: str) -> pd.DataFrame:
    """Return the sets before the work and the work, a row each."""
    planned, working = part.planned, part.working
    rows = [
        {
            "set": "work already" if each.counts_as_work else "warm-up",
            f"load, {unit}": numbers.figures(round(each.load, 2), 6),
            "repetitions": str(each.repetitions),
            "each side": each_side_text(each.each_side) if planned.on_bar else "",
            "of maximum": _share(each.share_of_max),
        }
        for each in part.ramp
    ]
    if working is not None:
        share = None if part.maximum is None else working.load / part.maximum.value
        rows.append(
            {
                "set": f"{planned.working_sets} x work",
                f"load, {unit}": numbers.figures(round(working.load, 2), 6),
                "repetitions": str(planned.repetitions),
                "each side": each_side_text(working.each_side) if planned.on_bar else "",
                "of maximum": _share(share),
            }
        )
    table = pd.DataFrame(rows)
    wanted = [column for column in table.columns if (table[column] != "").any()]
    return table[wanted]


def _share(share: float | None) -> str:
    return "" if share is None else numbers.percent(100 * share, 0)


def part_sentences(part: ExercisePart, unit: str) -> list[str]:
    """Return what is to be said of one exercise beside its table."""
    return [
        *_maximum_sentences(part, unit),
        *([] if part.own_line is None else line_sentences(part.own_line, unit)),
        *_published_sentences(part, unit),
        *part.remarks,
    ]


def _maximum_sentences(part: ExercisePart, unit: str) -> list[str]:
    maximum = part.maximum
    if maximum is None:
        return ["The maximum is not known, so no set is said to count as work."] * (
            part.planned.load is not None
        )
    low, high = (load_text(round(each, 1), unit) for each in (maximum.low, maximum.high))
    told = {
        "given": [f"The one-repetition maximum is {low}, as given."],
        "set": [
            f"From {part.planned.tested_repetitions} repetitions the one-repetition maximum is"
            f" {low} by Brzycki and {high} by Epley; the lower is used. Such estimates were 10 to"
            " 14\u00a0% off in a study (Hutchins & Gearhart)."
        ],
        "line": [],
    }[maximum.source]
    work_from = WORK_SHARE * maximum.value
    if maximum.source != "line":
        told.append(
            f"Sets count as work from {100 * WORK_SHARE:.0f}\u00a0% of it:"
            f" {load_text(round(work_from, 1), unit)}."
        )
    if part.working is not None and part.working.load < work_from:
        by_speed = part.planned.goal not in ("strength", "growth")
        told.append(
            f"The working load is below {100 * WORK_SHARE:.0f}\u00a0% of the maximum"
            + (", so that a target speed of the bar decides." if by_speed else ".")
        )
    return told


def line_sentences(own: OwnLine, unit: str) -> list[str]:
    """Return what an athlete's own load-velocity line says, with intervals and counts."""
    line = own.line
    behind = (
        f"{numbers.counted(line.sets, 'set')} on {numbers.counted(line.days, 'day')}, the level"
        f" that of {dates.day(own.day, 'long')} ({numbers.counted(line.day_sets, 'set')})"
    )
    told = [
        f"Own load-velocity line: {behind}. On that day {100 * WORK_SHARE:.0f}\u00a0% of the"
        f" maximum is {_loads(own.work_from, unit)}, where the bar moves at"
        f" {numbers.decimal(own.work_speed, 2)}\u00a0m/s; the maximum is where it moves at"
        f" {numbers.decimal(own.minimum.speed, 2)} ± {numbers.decimal(own.minimum.sd, 2)}\u00a0m/s"
        f" ({own.minimum.source}):"
        f" {_loads(own.maximum, unit)}.",
    ]
    if line.heaviest < WORK_SHARE * own.maximum.median:
        told.append(
            f"The heaviest of these sets is {load_text(round(line.heaviest, 1), unit)}: the"
            " maximum lies far beyond it, and the line may bend. In free-weight full squats such"
            " lines were 7\u00a0% off on average and leaned to one side (Banyard 2017)."
        )
    return told


def target_sentence(own: OwnLine, speed: float, unit: str) -> str:
    """Return the load at which the bar moves at a target speed, by the own line."""
    try:
        load = own.line.load_at(speed)
    except ModelError as error:
        return str(error)
    return f"The bar moves at {numbers.decimal(speed, 2)}\u00a0m/s with {_loads(load, unit)}."


def _loads(estimate: Estimate, unit: str) -> str:
    ends = numbers.between(estimate.low, estimate.high, 1)
    return f"{numbers.decimal(estimate.median, 1)} ({ends})\u00a0{unit}"


def _published_sentences(part: ExercisePart, unit: str) -> list[str]:
    """Return what the newest set says by lines of groups, while there is no own one."""
    if part.own_line is not None or part.sets.empty:
        return []
    newest = part.sets.iloc[-1]
    told = []
    for lift, line in PUBLISHED_LINES.get(part.planned.exercise, ()):
        try:
            share = line.share_pct(newest["bar_speed_m_s"])
        except ModelError:
            continue
        memory = ", coefficients from memory" if line.from_memory else ""
        told.append(
            f"{numbers.decimal(newest['bar_speed_m_s'], 2)}\u00a0m/s with"
            f" {load_text(from_kg(newest['load_kg'], unit), unit)} is about"
            f" {numbers.percent(share, 0)} of the maximum in a {lift}, by the line of a group"
            f" ({line.source}{memory}). People differ widely; the athlete's own sets say more."
        )
    return told


def curve_sentences(session: SessionParts) -> list[str]:
    """Return what the athlete's curve says of the session."""
    plan, measure, advice = session.plan, session.measure, session.advice
    if measure is None:
        return []
    if plan.athlete is None:
        return [f"The curve of {measure.name.lower()} needs an athlete: choose one above."]
    if advice is None:
        return [
            f"There is no curve of {measure.name.lower()} to go by yet. Work the curves out first."
        ] * bool(session.parts)
    counts = (
        f"{numbers.counted(advice.sessions, 'session')}"
        if advice.sessions
        else "the squad, as nothing of the athlete's own is there"
    )
    expected = advice.expected_pct
    told = [
        f"By the curve of {measure.name.lower()} ({counts}) the work begins best after"
        f" {numbers.volume(advice.volume, measure.volume_unit)}: {numbers.percent(expected.median)}"
        f" ({numbers.between(expected.low, expected.high, 1)}) against the athlete's own"
        " peak is then expected."
    ]
    return [*told, *_last_sentences(session)]


def _last_sentences(session: SessionParts) -> list[str]:
    last = session.last
    if last is None:
        return []
    warm_up = numbers.counted(int(last.warm_up), "warm-up set")
    behind = f"{warm_up} before set {last.sets}, the last for growth, each counted as one effort"
    if last.warm_up <= last.advised:
        return [f"The warm-up leaves the last sets alone ({behind})."]
    cost = last.cost_pct
    verdict = {
        True: "The warm-up costs the last growth sets: leave out some of its sets.",
        False: "The warm-up does not cost the last growth sets anything worth having.",
        None: "Whether the warm-up costs the last growth sets is not known.",
    }[last.costly]
    return [
        f"{verdict} Against {numbers.number(last.advised)}, which is advised for growth, the last"
        f" set gives away {numbers.percent(cost.median)}"
        f" ({numbers.between(cost.low, cost.high, 1)}); the chance that it matters is"
        f" {numbers.chance(last.chance_costly)} ({behind})."
    ]


def general_table(session: SessionParts) -> pd.DataFrame:
    """Return the general part, a row for each region in order."""
    if session.general is None:
        return pd.DataFrame()
    return pd.DataFrame(
        {
            "region": step.name,
            "minutes": minutes_text(step.minutes),
            **dict(zip(PLANES, step.movements, strict=True)),
        }
        for step in session.general.steps
    )


def general_lines(session: SessionParts) -> list[str]:
    """Return the general part, a line for each region in order."""
    steps = () if session.general is None else session.general.steps
    return [
        f"**{step.name}, {minutes_text(step.minutes)}**: {'; '.join(step.movements)}"
        for step in steps
    ]


def minutes_text(minutes: float) -> str:
    """Return minutes and seconds: `1:30`."""
    seconds = round(60 * minutes)
    return f"{seconds // 60}:{seconds % 60:02d}"


def whom(plan: SessionPlan, names: Mapping[str, str]) -> str:
    """Return for whom a plan is."""
    who = "nobody in particular" if plan.athlete is None else names.get(plan.athlete, plan.athlete)
    return f"For {who}."


def note(plan: SessionPlan) -> str:
    """Return the note of a plan, for staff: it may say why, so it is on no paper."""
    return f" Note: {plan.note}" if plan.note else ""
