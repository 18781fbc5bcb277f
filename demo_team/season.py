from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import numpy as np
import pandas as pd

from demo_team.club import MEASURES, TRUE_ACCOUNT
from demo_team.plans import set_volume
from demo_team.planted import PLANTED, Planted
from demo_team.roster import ROSTER
from modeling.curve.account import Circumstances
from modeling.day.caution import most_in_test
from modeling.testing.simulation import Noise, fade_test, routine_session, volumes_in_effect

SEED = 2026
NOISE = {
    "jump_height": Noise(effort=0.025, day=0.02),
    "throw_speed": Noise(effort=0.02, day=0.015),
}

TRAINING_DAYS = [
    date(2026, 8, 4) + timedelta(days=7 * week + more) for week in range(16) for more in (0, 2)
]
GAME_DAYS = [date(2026, 9, 5) + timedelta(days=7 * week) for week in range(12)]
FADE_WEEKS = {
    "jump_height": (date(2026, 8, 10), date(2026, 9, 21), date(2026, 11, 2)),
    "throw_speed": (date(2026, 8, 17), date(2026, 9, 28), date(2026, 11, 9)),
}
START = {
    ("jump_height", "fade"): time(16, 30),
    ("throw_speed", "fade"): time(17, 0),
    ("jump_height", "routine"): time(17, 30),
    ("throw_speed", "routine"): time(18, 0),
}
LEFT_ON = {"H24": date(2026, 10, 9)}
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


def efforts_table(measure: str) -> pd.DataFrame:
    """Give a measure's efforts file as a coach without a slip of the pen would write it.

    All columns are text; one row per effort, in the order of time and athlete.
    """
    rows = [
        row
        for number, player in enumerate(ROSTER)
        if player.athlete in PLANTED[measure]
        for row in _athlete_rows(measure, number, player.athlete)
    ]
    table = pd.DataFrame(rows).sort_values(["started_at", "athlete"], kind="stable")
    return table.reset_index(drop=True)


def _athlete_rows(measure: str, number: int, athlete: str) -> Iterator[dict[str, str]]:
    # Every athlete has random numbers of their own: a change to one leaves the others alone.
    rng = np.random.default_rng([SEED, list(PLANTED).index(measure), number])
    plan = PLANTED[measure][athlete]
    for occasion in _occasions(measure, number, athlete, plan, rng):
        started_at = datetime.combine(occasion.day, START[measure, occasion.kind])
        planned = set_volume(measure, number, plan, occasion.day)
        facts = _session_facts(planned, number, occasion)
        efforts = _efforts(measure, plan, occasion, planned, _around(facts, started_at), rng)
        if facts["pain"] == "yes":  # then nothing is measured; the numbers drawn leave the rest be
            continue
        for effort, (volume, value) in enumerate(efforts, start=1):
            yield (
                {
                    "athlete": athlete,
                    "started_at": started_at.isoformat(timespec="minutes"),
                    "measure": measure,
                    "kind": occasion.kind,
                    "context": occasion.context,
                    "effort": str(effort),
                    "value": f"{value:.1f}",
                    "volume_before": volume,
                }
                | facts
                | {"excluded": ""}
            )


def _occasions(
    measure: str, number: int, athlete: str, plan: Planted, rng: np.random.Generator
) -> list[Occasion]:
    fade_days = [
        monday + timedelta(days=number % 4) for monday in FADE_WEEKS[measure][: plan.fade_tests]
    ]
    last = LEFT_ON.get(athlete, date.max)
    free = [day for day in TRAINING_DAYS + GAME_DAYS if day not in fade_days and day <= last]
    chosen = rng.choice(len(free), size=plan.routine_sessions, replace=False)
    routine = [
        Occasion(free[i], "routine", "game" if free[i] in GAME_DAYS else "training") for i in chosen
    ]
    fades = [Occasion(day, "fade", "test") for day in fade_days]
    return sorted(fades + routine, key=lambda occasion: occasion.day)


def _efforts(
    measure: str,
    plan: Planted,
    occasion: Occasion,
    planned: float,
    around: Circumstances,
    rng: np.random.Generator,
) -> list[tuple[str, float]]:
    in_effect = volumes_in_effect(TRUE_ACCOUNT, around)
    if occasion.kind == "fade":
        # In a fade test the volume is the number of efforts before, so nobody writes it down.
        _, values = fade_test(plan.truth(), NOISE[measure], rng, in_effect=in_effect)
        return [("", value) for value in values.tolist()[: most_in_test(MEASURES[measure].effort)]]
    first = round(planned * float(np.exp(0.2 * rng.standard_normal())))
    volume = first + np.arange(int(rng.integers(2, 5)))
    values = routine_session(plan.truth(), volume.astype(float), NOISE[measure], rng, in_effect)
    return [(str(done), value) for done, value in zip(volume, values.tolist(), strict=True)]


def _around(facts: dict[str, str], started_at: datetime) -> Circumstances:
    return Circumstances(
        general_minutes=float(facts["general_minutes"]),
        rest_minutes=float(facts["rest_minutes"]),
        ambient_c=float(facts["ambient_c"]),
        hour=started_at.hour + started_at.minute / 60.0,
    )


def _session_facts(planned: float, number: int, occasion: Occasion) -> dict[str, str]:
    # Facts go with the athlete and the day alone; what they do is up to the account.
    hall = np.random.default_rng([SEED, occasion.day.toordinal()])
    rng = np.random.default_rng([SEED, occasion.day.toordinal(), number])
    autumn = 9.0 * min((occasion.day - date(2026, 8, 1)).days / 110.0, 1.0)
    games = [day for day in GAME_DAYS if day < occasion.day]
    routine = occasion.kind == "routine"
    rest = rng.integers(8, 26) if occasion.context == "game" else rng.integers(0, 5)
    freshness, joints, mobility = np.clip(np.rint(rng.normal(7.0, 1.4, 3)), 0, 10).astype(int)
    return {
        "general_minutes": str(rng.integers(5, 16) if routine else int(rng.integers(0, 11)) or 5),
        "rest_minutes": str(rest) if routine else "0",
        "ambient_c": f"{22.0 - autumn + hall.normal(0.0, 1.5):.0f}",
        "days_since_game": str((occasion.day - games[-1]).days) if games else "",
        "planned_volume": f"{planned:.0f}" if routine else "",
        "freshness": str(freshness),
        "joints": str(joints),
        "mobility": str(mobility),
        "pain": "yes" if rng.random() < 0.03 else "no",
        "note": str(rng.choice(NOTES)) if rng.random() < 0.04 else "",
    }
