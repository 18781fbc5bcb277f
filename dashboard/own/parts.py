"""Parts of the athlete's own page: what is set, what has changed, what the club keeps."""

from __future__ import annotations

from datetime import date, datetime

import pandas as pd
import streamlit as st

from dashboard.club import privacy_words
from dashboard.fits.lengths import response_history
from dashboard.own import words
from dashboard.results.trials import trials_of
from dashboard.rules.test_days import athlete_days
from dashboard.screen import elements
from dashboard.screen.reads import ask, open_links, own_store, seen_by_staff
from db.people.athlete_views import athlete_views
from db.plans.kept_games import kept_games
from db.plans.lengths import choices
from db.plans.trials import trial_sessions
from db.privacy.held_data import held
from db.roster.measures import Measure


def show_next(measure: Measure, athlete: str) -> None:
    """Show what is set for the days to come, games aside, and the trial the athlete is in."""
    today = date.today()
    midnight = datetime.combine(today, datetime.min.time())
    games = {(kept.game.day, kept.game.measure) for kept in ask(kept_games, since=midnight)}
    rows, days = ask(choices, athlete), ask(athlete_days)[athlete]
    rows = rows[rows["in_force"] & (rows["measure"] == measure.code)].sort_values("day")
    for row in rows.to_dict("records"):
        day = pd.Timestamp(row["day"]).date()
        if day >= today and (day, measure.code) not in games:
            length, around = row["chosen_volume"], days.around(day)
            st.write(words.set_sentence(day, length, measure.volume_unit, around))
    for trial in trials_of(ask(trial_sessions, athlete, measure.code)):
        if trial.running:
            st.write(words.trial_sentence(trial, measure.volume_unit))


def show_change(measure: Measure, athlete: str) -> None:
    """Say what the newest curves changed; of the first there is nothing to say."""
    fits = ask(response_history, measure.code, athlete).tail(2).to_dict("records")
    if len(fits) == 2:
        before, now = fits
        st.write(words.changed_sentence(before, now, measure.volume_unit))


def show_kept(athlete: str) -> None:
    """Show what the club keeps about an athlete, who may see it, and what can be taken."""
    staff = seen_by_staff()
    links = open_links(athlete).to_dict("records")
    # Not remembered: views are noted without a new revision of the store.
    views = athlete_views(own_store(), athlete).to_dict("records")
    elements.bullets(
        [
            privacy_words.counts_sentence(ask(held, athlete)),
            *words.seen_by_sentences(staff),
            words.views_sentence(views, staff),
            words.links_sentence(links, staff),
            words.KEPT_BESIDE,
        ]
    )
    st.link_button("Take my data with me (zip)", "/download/my-data.zip", key="take_my_data")
