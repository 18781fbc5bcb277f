"""What the page and the sheet of a session plan say."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import pandas as pd

from dashboard.core import numbers
from dashboard.lifting.bar_speed_words import line_sentences, published_sentences
from dashboard.lifting.parts import EXPLOSIVE_KINDS, ExercisePart, SessionParts
from dashboard.lifting.plates import each_side_text, load_text
from dashboard.rules.match_days import squad_day_words
from dashboard.rules.test_days import AthleteDays
from db.plans.planned_exercises import PlannedExercise
from db.plans.session_plans import SessionPlan
from modeling.lifting.general_part import PLANES
from modeling.lifting.session_order import goal_name
from modeling.lifting.working_sets import STRENGTH_SHARE

OWN_WARM_UPS = {
    "full": "Own build-up",
    "short": "A shorter build-up",
    "practice": "Practice sets",
    "some": "Two build-up sets",
    "none": "No build-up of its own",
}
BUILD_UP = {
    "full": "Build up from easy to full effort.",
    "short": "Two or three rising efforts before the first full one.",
    "practice": "A few easy repetitions until it moves well.",
    "some": "Two or three easy repetitions.",
    "none": "",
}
"""For exercises without a load to build up."""
RISING = {
    "full": "2 at about 60\u00a0%, 2 at 75\u00a0% and 1 at 90\u00a0% of full effort, then the first"
    " full one.",
    "short": "2 at about 75\u00a0% and 1 at 90\u00a0% of full effort, then the first full one.",
}
"""Efforts on the way to the first full one (common practice, no source)."""
READINESS = {
    "joints": "Joints feel good",
    "positions": "Full range of motion is reached",
    "fresh": "Feels fresh",
    "peak": "Speed or power rises no more from set to set",
}
NOT_YET = "Until all four hold, every set is a build-up set."
READY = "All four hold: the next set is the first working set."
GROWTH_EARLY = (
    "For muscle growth the warm-up may end a little early, as long as it costs none of the sets"
    " that follow."
)
HEAVY_CAUTION = (
    "Heavy lifts are for cleared, uninjured, supervised athletes who know the movement. Pain,"
    " dizziness or loss of control: stop, whatever the screen says."
)


def work_sentence(planned: PlannedExercise, unit: str) -> str:
    """Return what is to be done: `strength: 3 sets of 5 at 100 kg`."""
    sets = f"{numbers.counted(planned.working_sets, 'set')} of {planned.repetitions}"
    at = "" if planned.load is None else f" at {load_text(planned.load, unit)}"
    return f"{goal_name(planned.goal)}: {sets}{at}"


def own_sentence(part: ExercisePart) -> str:
    """Return how much warm-up of its own an exercise gets, and why."""
    told = [f"**{OWN_WARM_UPS[part.own.how]}.** {part.own.reason}"]
    if not part.ramp:
        words = RISING if part.kind in EXPLOSIVE_KINDS and part.own.how in RISING else BUILD_UP
        told.append(words[part.own.how])
    return " ".join(filter(None, told))


def ramp_table(part: ExercisePart, unit: str) -> pd.DataFrame:
    """Return a row for each build-up set, and one for the work."""
    planned, working = part.planned, part.working
    rows = [
        {
            "set": "build-up",
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
    """Return the sentences that go with an exercise's table."""
    return [
        *_maximum_sentences(part, unit),
        *([] if part.own_line is None else line_sentences(part.own_line, unit)),
        *published_sentences(part, unit),
        *part.remarks,
    ]


def _maximum_sentences(part: ExercisePart, unit: str) -> list[str]:
    maximum = part.maximum
    if maximum is None:
        return ["The maximum is not known, so which loads count as work isn't either."] * (
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
    return [*told, *_counting_sentences(part, unit)]


def _counting_sentences(part: ExercisePart, unit: str) -> list[str]:
    """Return which sets count as work; it depends on their goal."""
    goal, counting = part.planned.goal, part.counting
    if counting is None or part.working is None:
        return {
            "growth": [
                "For muscle growth a set counts when it ends about 3 repetitions or fewer before"
                " failure (common practice, no source)."
            ]
        }.get(goal, [])
    least = load_text(round(counting.least, 1), unit)
    if counting.most is None:
        told = (
            f"For strength a set counts as work from {least}: {100 * STRENGTH_SHARE:.0f}\u00a0% of"
            " the maximum, and within 5\u00a0% of the day's load. Build-up sets do not count."
        )
    else:
        most = load_text(round(counting.most, 1), unit)
        told = (
            f"For power a set counts as work at 30 to 60\u00a0% of the maximum, {least} to {most},"
            " moved as fast as possible. Build-up sets do not count."
        )
    if counting.hold(part.working.load):
        return [told]
    return [told, "The working load lies outside of that."]


def curve_sentences(session: SessionParts) -> list[str]:
    """Return what the athlete's curve says about the session."""
    plan, measure, advice = session.plan, session.measure, session.advice
    if measure is None or not session.parts:
        return []
    of_what = measure.name.lower()
    if plan.athlete is None:
        return [f"The curve of {of_what} needs an athlete: choose one above."]
    if not session.spoken_for:
        return [
            f"The curve of {of_what} speaks of its own kind of effort only, and none of these"
            " exercises is: nothing is read from it here."
        ]
    if advice is None:
        return [f"There is no curve of {of_what} to go by yet. Work the curves out first."]
    counts = (
        f"{numbers.counted(advice.sessions, 'session')}"
        if advice.sessions
        else "the squad, as nothing of the athlete's own is there"
    )
    lost = advice.lost_pct
    return [
        f"By the curve of {of_what} ({counts}) {session.spoken_for.lower()} begins after"
        f" {numbers.volume(advice.volume, measure.volume_unit)} of its own;"
        f" {numbers.percent_with_interval(lost.median, lost.low, lost.high)} is lost. Sets of other"
        " exercises do not count towards it."
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


def whom(plan: SessionPlan, names: Mapping[str, str], around: str = "") -> str:
    """Return who a plan is for, and where its day lies between games."""
    who = "nobody in particular" if plan.athlete is None else names.get(plan.athlete, plan.athlete)
    return f"For {who}. {around}".rstrip(" .") + "."


def around(plan: SessionPlan, known: Mapping[str, AthleteDays], active: Iterable[str]) -> str:
    """Return the place of a plan's day between the games of its athlete, else of the squad."""
    return squad_day_words(plan.day, known, active if plan.athlete is None else [plan.athlete])


def note(plan: SessionPlan) -> str:
    """Return a plan's note, for staff: it may say why, so it is never printed."""
    return f" Note: {plan.note}" if plan.note else ""
