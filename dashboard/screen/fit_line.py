"""The line under every staff page: fits that run in the background, and what they changed."""

from __future__ import annotations

import streamlit as st

from dashboard.core.numbers import counted, listed
from dashboard.fits.background_fits import FitStage, fits_under_way
from dashboard.fits.fit_news import ChangedCall, FitNews, fit_news
from dashboard.fits.own_accord import curves_come_by_themselves
from dashboard.screen.elements import quiet
from dashboard.screen.reads import ask, measures_in_use
from dashboard.screen.selection import measures_by_code
from db.people.accounts import Person

LOOK_SECONDS = 3.0
SEEN = "fits_seen"
MOST_NAMED = 3


def show_fit_line(person: Person) -> None:
    """Show staff how far background fits are, and say once what each of them changed."""
    if person.role != "athlete" and (curves_come_by_themselves() or fits_under_way()):
        _follow_fits()


@st.fragment(run_every=LOOK_SECONDS)
def _follow_fits() -> None:
    names = {code: measure.name for code, measure in measures_by_code().items()}
    for stage in fits_under_way():
        if stage.measure in names:
            quiet(stage_sentence(names[stage.measure], stage))
    begun = SEEN in st.session_state
    seen: dict[str, int] = st.session_state.setdefault(SEEN, {})
    for measure in ask(measures_in_use):
        news = ask(fit_news, measure.code)
        if begun and news and seen.get(measure.code) != news.fit_id:
            st.toast(news_sentence(measure.name, news), icon=":material/timeline:")
        seen[measure.code] = news.fit_id if news else 0


def stage_sentence(measure: str, stage: FitStage) -> str:
    """Return how far the fit of a measure is."""
    what = "what follows from the new curves" if stage.curves_kept else "the curves"
    return f"{measure}: working out {what}, {100 * stage.share:.0f}\u00a0%."


def news_sentence(measure: str, news: FitNews) -> str:
    """Return what the newest curves of a measure changed."""
    if news.first:
        return f"{measure}: the first curves are there."
    if not news.calls:
        return f"{measure}: new curves. Nobody's call changed."
    named = [call_words(each) for each in news.calls[:MOST_NAMED]]
    if more := len(news.calls) - MOST_NAMED:
        named += [counted(more, "other")] if more > 0 else []
    return f"{measure}: new curves. Another call: {listed(named)}."


def call_words(changed: ChangedCall) -> str:
    """Return whose call changed, from what to what."""
    return f"{changed.name} ({changed.before} \u2192 {changed.after})"
