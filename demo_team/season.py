"""A season of sessions as they were measured: the true curves, the noise, and who was where."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time

import numpy as np
import pandas as pd

from demo_team.club import MEASURES, TRUE_ACCOUNT
from demo_team.days import (
    GAME_DAYS,
    LATE_TESTS,
    SEED,
    free_training_days,
    game_squad,
    test_days,
)
from demo_team.fade_ends import draw_ending
from demo_team.plans import SetLength, length_set
from demo_team.planted import PLANTED, Planted
from demo_team.roster import ROSTER
from demo_team.trial import ATHLETE as TRIAL_ATHLETE
from demo_team.trial import MEASURE as TRIAL_MEASURE
from demo_team.trial import trial_volumes
from modeling.curve.account import Circumstances
from modeling.day.caution import most_in_test
from modeling.testing.simulation import Noise, routine_session, volumes_in_effect

NOISE = {
    "jump_height": Noise(effort=0.025, day=0.02),
    "throw_speed": Noise(effort=0.015, day=0.015),
}
MEASURED_AT_GAMES = {"jump_height": GAME_DAYS, "throw_speed": GAME_DAYS[1::4]}
GOLDEN = (5.0**0.5 - 1.0) / 2.0
"""The fractional parts of its multiples are evenly spread, however many there are."""
APART = 3
"""How many turns the measures are apart: with this, somebody is measured every training day."""
EFFORTS_AT_GAME, EFFORTS_IN_TRAINING = 2, 3
START = {
    ("jump_height", "test"): time(16, 30),
    ("throw_speed", "test"): time(17, 0),
    ("jump_height", "training"): time(17, 30),
    ("throw_speed", "training"): time(18, 0),
    ("jump_height", "game"): time(18, 0),
    ("throw_speed", "game"): time(18, 0),
}
"""For a game this is the throw-off; its efforts are made just before it."""
NOTES = (
    "ankle taped", "slept badly", "new shoes", "bus was late, hurried start",
    "back from a cold", "second session of the day",
)  # fmt: skip


@dataclass(frozen=True)
class Occasion:
    """When an athlete was measured, and whether in a fade test."""

    day: date
    kind: str
    context: str


@dataclass(frozen=True)
class Season:
    """The data of a measure from one season.

    Attributes
    ----------
    efforts : DataFrame
        The efforts file as a coach who makes no slip would write it. All columns are text; one
        row per effort, sorted by time and athlete.
    lengths : dict of (str, str) to SetLength
        What was set before the routine sessions, by athlete and start.
    """

    efforts: pd.DataFrame
    lengths: dict[tuple[str, str], SetLength]


def season_of(measure: str) -> Season:
    """Simulate a measure's season."""
    lengths: dict[tuple[str, str], SetLength] = {}
    rows = [
        row
        for number, player in enumerate(ROSTER)
        if player.athlete in PLANTED[measure]
        for row in _athlete_rows(measure, number, player.athlete, lengths)
    ]
    table = pd.DataFrame(rows).sort_values(["started_at", "athlete"], kind="stable")
    return Season(table.reset_index(drop=True), lengths)


def _athlete_rows(
    measure: str, number: int, athlete: str, lengths: dict[tuple[str, str], SetLength]
) -> Iterator[dict[str, str]]:
    # Every session has its own random numbers, so a change to one leaves the others as they are.
    own = [SEED, list(PLANTED).index(measure), number]
    plan = PLANTED[measure][athlete]
    for occasion in _occasions(measure, number, athlete, plan):
        rng = np.random.default_rng([*own, occasion.day.toordinal()])
        at = datetime.combine(occasion.day, START[measure, occasion.context])
        started_at = at.isoformat(timespec="minutes")
        facts = _session_facts(number, occasion)
        in_effect = volumes_in_effect(TRUE_ACCOUNT, _around(facts, at))
        efforts: list[tuple[str, float]]
        if occasion.kind == "fade":
            kind = MEASURES[measure].effort
            volume = np.arange(float(most_in_test(kind)))
            values = routine_session(plan.truth(), volume, NOISE[measure], rng, in_effect).round(1)
            done, why = draw_ending(kind, rng).of(values.tolist())
            facts |= {"note": why or facts["note"]}
            # In a fade test the volume is the number of efforts before, so nobody writes it down.
            efforts = [("", value) for value in values[:done].tolist()]
        else:
            length = length_set(measure, athlete, plan, occasion.day, rng)
            lengths[athlete, started_at] = length
            facts |= {"planned_volume": f"{length.chosen:.0f}"}
            many = EFFORTS_AT_GAME if occasion.context == "game" else EFFORTS_IN_TRAINING
            volume = length.done + np.arange(float(many))
            values = routine_session(plan.truth(), volume, NOISE[measure], rng, in_effect)
            efforts = [
                (f"{before:.0f}", value) for before, value in zip(volume, values, strict=True)
            ]
        for effort, (before, value) in enumerate(efforts, start=1):
            yield (
                {
                    "athlete": athlete,
                    "started_at": started_at,
                    "measure": measure,
                    "kind": occasion.kind,
                    "context": occasion.context,
                    "effort": str(effort),
                    "value": f"{value:.1f}",
                    "volume_before": before,
                }
                | facts
                | {"excluded": ""}
            )


def _occasions(measure: str, number: int, athlete: str, plan: Planted) -> list[Occasion]:
    tests = test_days(measure, athlete, plan.fade_tests)
    free = free_training_days(measure, athlete, tests)
    drawn = set(trial_volumes()) if (athlete, measure) == (TRIAL_ATHLETE, TRIAL_MEASURE) else set()
    left = [day for day in free if not drawn or day < min(drawn)]
    # Turns are spread evenly over the season, at different times for each athlete and measure.
    phase = (number + APART * list(PLANTED).index(measure)) * GOLDEN % 1.0
    turns = np.arange(plan.training_sessions) + phase
    places = (turns * len(left) / max(plan.training_sessions, 1)).astype(int)
    training = {left[place] for place in places} | drawn
    games = [day for day in MEASURED_AT_GAMES[measure] if athlete in game_squad(day)]
    late = LATE_TESTS.get((measure, athlete))
    found = [Occasion(day, "fade", "test") for day in [*tests, *([late] if late else [])]]
    found += [Occasion(day, "routine", "training") for day in training]
    found += [Occasion(day, "routine", "game") for day in games]
    return sorted(found, key=lambda occasion: occasion.day)


def _around(facts: dict[str, str], started_at: datetime) -> Circumstances:
    return Circumstances(
        general_minutes=float(facts["general_minutes"]),
        rest_minutes=float(facts["rest_minutes"]),
        ambient_c=float(facts["ambient_c"]),
        hour=started_at.hour + started_at.minute / 60.0,
    )


def _session_facts(number: int, occasion: Occasion) -> dict[str, str]:
    # Seeds use the athlete and the day, not the measure; what the facts do is up to the account.
    hall = np.random.default_rng([SEED, occasion.day.toordinal()])
    rng = np.random.default_rng([SEED, occasion.day.toordinal(), number])
    autumn = 9.0 * min((occasion.day - date(2026, 8, 1)).days / 110.0, 1.0)
    games = [day for day in GAME_DAYS if day < occasion.day]
    routine = occasion.kind == "routine"
    rest = rng.integers(3, 11) if occasion.context == "game" else rng.integers(0, 5)
    freshness, joints, mobility = np.clip(np.rint(rng.normal(7.0, 1.4, 3)), 0, 10).astype(int)
    return {
        "general_minutes": str(rng.integers(5, 16) if routine else rng.integers(5, 11)),
        "rest_minutes": str(rest) if routine else "0",
        "ambient_c": f"{22.0 - autumn + hall.normal(0.0, 1.5):.0f}",
        "days_since_game": str((occasion.day - games[-1]).days) if games else "",
        "planned_volume": "",
        "freshness": str(freshness),
        "joints": str(joints),
        "mobility": str(mobility),
        # An athlete who answers yes is out, and is not measured.
        "pain": "no",
        "note": str(rng.choice(NOTES)) if rng.random() < 0.04 else "",
    }
