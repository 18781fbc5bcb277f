"""Parts of the athlete's own page: what has changed, and what the club keeps."""

from __future__ import annotations

import streamlit as st

from dashboard.club import privacy_words
from dashboard.fits.lengths import a_week_apart
from dashboard.own import words
from dashboard.screen import elements
from dashboard.screen.menu import at
from dashboard.screen.reads import ask, open_links, own_store, seen_by_staff
from db.people.accounts import Person
from db.people.athlete_views import athlete_views
from db.privacy.held_data import held
from db.roster.measures import Measure


def show_change(measure: Measure, athlete: str) -> None:
    """Say what has changed since the curves of a week earlier, if there are any."""
    fits = ask(a_week_apart, measure.code, athlete).to_dict("records")
    if len(fits) == 2:
        before, now = fits
        st.write(words.changed_sentence(before, now, measure.volume_unit))


def show_kept(person: Person, athlete: str) -> None:
    """Show what the club keeps about an athlete, who may see it, and offer it as a file."""
    staff = seen_by_staff(person)
    links = open_links(person, athlete).to_dict("records")
    # Not asked with `ask`: a view makes no new revision, so a remembered answer would be old.
    views = athlete_views(own_store(), athlete).to_dict("records")
    elements.bullets(
        words.kept_sentences(privacy_words.counts_sentence(ask(held, athlete)), staff, views, links)
    )
    st.link_button("Take my data with me (zip)", at("/download/my-data.zip"), key="take_my_data")
