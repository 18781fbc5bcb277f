"""What is set for an athlete for the days to come, games aside, and the trial they are in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

import pandas as pd

from dashboard.own import words
from dashboard.own.why import reason_given, set_reason
from dashboard.results.trials import trials_of
from dashboard.rules.test_days import AthleteDays, athlete_days
from db.file.store import Store
from db.plans.kept_games import KeptGame, kept_games
from db.plans.lengths import choices
from db.plans.trials import trial_sessions
from db.roster.measures import Measure


@dataclass(frozen=True)
class Coming:
    """What lies before an athlete.

    Attributes
    ----------
    games : sequence of KeptGame
        From the day on, as far as the athlete is in them.
    choices : DataFrame
        Lengths that are set from the day on and in force, as `db.plans.lengths.choices` has them.
    trials : DataFrame
        As `db.plans.trials.trial_sessions` has them.
    days : AthleteDays
    """

    games: Sequence[KeptGame]
    choices: pd.DataFrame
    trials: pd.DataFrame
    days: AthleteDays


def coming(own: Store, athlete: str, today: date) -> Coming:
    """Return what lies before an athlete from a day on."""
    rows = choices(own, athlete)
    set_yet = rows["in_force"] & (rows["day"] >= pd.Timestamp(today))
    return Coming(
        kept_games(own, since=datetime.combine(today, datetime.min.time())),
        rows[set_yet].sort_values("day"),
        trial_sessions(own, athlete),
        athlete_days(own)[athlete],
    )


def coming_sentences(
    known: Coming, measure: Measure, usual: float | None, with_reason: bool
) -> list[str]:
    """Return what is told of every length that is set, and of a running trial.

    Parameters
    ----------
    known
        What lies before the athlete.
    measure
        Of which measure.
    usual
        The length on a usual day, None where it is not known: another stands with its reason.
    with_reason
        Whether the coach's own words are among it, which are for the athlete alone.
    """
    games = {(kept.game.day, kept.game.measure) for kept in known.games}
    rows = known.choices[known.choices["measure"] == measure.code]
    told = []
    for row in rows.to_dict("records"):
        day = pd.Timestamp(row["day"]).date()
        if (day, measure.code) not in games:
            length, around = row["chosen_volume"], known.days.around(day)
            is_set = words.set_sentence(day, length, measure.volume_unit, around)
            drawn = row["plan_id"] in set(known.trials["plan_id"].dropna())
            because = set_reason(row, usual, drawn) if usual is not None else ""
            given = reason_given(row["reason"], with_reason)
            told.append(" ".join(part for part in (is_set, because, given) if part))
    own_trials = known.trials[known.trials["measure"] == measure.code]
    for trial in trials_of(own_trials):
        if trial.running:
            told.append(words.trial_sentence(trial, measure.volume_unit))
    return told
