"""The lengths set for an athlete's coming days, other than games, and the trial they are in."""

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
    """What an athlete has coming up from a day on.

    Attributes
    ----------
    games : sequence of KeptGame
        From that day on, as far as the athlete may see them.
    choices : DataFrame
        Lengths set for that day or later and in force, as `db.plans.lengths.choices` gives them.
    trials : DataFrame
        As `db.plans.trials.trial_sessions` gives them.
    days : AthleteDays
    """

    games: Sequence[KeptGame]
    choices: pd.DataFrame
    trials: pd.DataFrame
    days: AthleteDays


def coming(own: Store, athlete: str, today: date) -> Coming:
    """Return what an athlete has coming up from a day on."""
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
    """Return a sentence about each length that is set, and about each running trial.

    Parameters
    ----------
    known
        What the athlete has coming up.
    measure
        Lengths and trials of other measures are left out.
    usual
        The length on a usual day, None if not known. A length that differs comes with its reason.
    with_reason
        Whether to give the coach's own words, which are for the athlete alone.
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
