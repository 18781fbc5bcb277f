"""What is set for an athlete for the days to come, games aside, and the trial they are in."""

from __future__ import annotations

from datetime import date, datetime

import pandas as pd

from dashboard.own import words
from dashboard.results.trials import trials_of
from dashboard.rules.test_days import athlete_days
from db.file.store import Store
from db.plans.kept_games import kept_games
from db.plans.lengths import choices
from db.plans.trials import trial_sessions
from db.roster.measures import Measure


def coming_sentences(own: Store, measure: Measure, athlete: str) -> list[str]:
    """Return a sentence for every length that is set from today on, and for a running trial."""
    today = date.today()
    midnight = datetime.combine(today, datetime.min.time())
    games = {(kept.game.day, kept.game.measure) for kept in kept_games(own, since=midnight)}
    rows, days = choices(own, athlete), athlete_days(own)[athlete]
    rows = rows[rows["in_force"] & (rows["measure"] == measure.code)].sort_values("day")
    told = []
    for row in rows.to_dict("records"):
        day = pd.Timestamp(row["day"]).date()
        if day >= today and (day, measure.code) not in games:
            length, around = row["chosen_volume"], days.around(day)
            told.append(words.set_sentence(day, length, measure.volume_unit, around))
    for trial in trials_of(trial_sessions(own, athlete, measure.code)):
        if trial.running:
            told.append(words.trial_sentence(trial, measure.volume_unit))
    return told
