"""What pages say while data or curves are missing, under way or out of date."""

from __future__ import annotations

import streamlit as st

from dashboard.core import numbers
from dashboard.core.numbers import (
    counted,
)
from dashboard.fits.background_fits import fit_stage
from dashboard.fits.due_fits import Behind, behind
from dashboard.fits.fitting import fit_measure, lacking_for_curves
from dashboard.fits.own_accord import curves_come_by_themselves
from dashboard.screen import elements, notices
from dashboard.screen.elements import ENTER_PAGE, IMPORT_PAGE, progress_bar
from dashboard.screen.reads import ask
from dashboard.screen.web_sessions import running_store
from db.efforts.rows import data_summary
from db.errors import StoreError
from db.fits.results import KeptFit
from db.people.accounts import Person
from db.roster.measures import Measure

FOLLOW_SECONDS = 0.5


def no_efforts_yet(measure: Measure) -> bool:
    """Tell whether a measure has no efforts yet, and say how to add them if so."""
    if (ask(data_summary)["measure"] == measure.code).any():
        return False
    st.info(
        f"There are no efforts of {measure.name.lower()} yet. Import a file of efforts, or"
        " enter a session: three athletes with a fade test each are a good start."
    )
    ways_to_enter()
    return True


def ways_to_enter() -> None:
    """Link to the pages for adding efforts."""
    with st.container(horizontal=True):
        st.page_link(IMPORT_PAGE, label="Import a file")
        st.page_link(ENTER_PAGE, label="Enter a session")


def no_curves_yet(person: Person, measure: Measure) -> None:
    """Say what to do while there is no fit: collect data, or work the curves out."""
    if no_efforts_yet(measure):
        return
    if follow_fit(measure):
        return
    summary = ask(data_summary)
    mine = summary[summary["measure"] == measure.code]
    st.info(
        f"{numbers.counted(int(mine['efforts'].sum()), 'effort')} of"
        f" {numbers.counted(len(mine), 'athlete')} are saved. The curves have not been worked"
        " out yet."
    )
    if lacking := ask(lacking_for_curves, measure):
        st.write(lacking)
        ways_to_enter()
        return
    _update_button(person, measure, "Work out the curves")


def follow_fit(measure: Measure) -> bool:
    """Show a fit that runs in the background until it is saved; tell whether there is one."""
    stage = fit_stage(measure.code)
    if stage is None:
        return False
    if stage.problem:
        st.error(stage.problem)
        return False
    st.info(notices.under_way(measure.name, stage.curves_kept))
    _show_stage(measure.code, stage.curves_kept)
    return True


@st.fragment(run_every=FOLLOW_SECONDS)
def _show_stage(code: str, curves_kept: bool) -> None:
    stage = fit_stage(code)
    if stage is None or stage.problem or stage.curves_kept != curves_kept:
        st.rerun()
    st.progress(stage.share, text=stage.what)


def work_out_again(person: Person, measure: Measure, lacking: str, brings: str) -> None:
    """Say what unfinished curves lack, and offer to work them out again."""
    if follow_fit(measure):
        return
    st.info(
        f"These curves were worked out by an earlier version or stopped early, {lacking}. Work"
        f" them out again to {brings}."
    )
    _update_button(person, measure, "Work out the curves again")


def newer_data_notice(person: Person, measure: Measure, fit: KeptFit) -> None:
    """Say calmly that the curves are older than the data or the settings, with a button."""
    why = ask(behind, measure, fit)
    reasons = behind_sentences(why)
    stage = fit_stage(measure.code)
    if stage is not None and why.stopped_early:
        reasons.remove(NOT_CONCLUDED)
    if reasons:
        st.info(" ".join(reasons))
        if stage and stage.problem:
            st.error(stage.problem)
        _update_button(person, measure, "Update the curves")


def _update_button(person: Person, measure: Measure, label: str) -> None:
    """Offer a fit, unless fits come by themselves; offer one even then if the last one failed."""
    stage = fit_stage(measure.code)
    if curves_come_by_themselves() and not (stage and stage.problem):
        _await_fit(measure.code, stage is not None)
        return
    if not st.button(label, key="update_curves"):
        return
    try:
        fit_measure(running_store(), measure.code, person.person, progress_bar())
    except StoreError as error:
        st.error(f"{error.title}. {error.message}")
        return
    st.rerun()


@st.fragment(run_every=FOLLOW_SECONDS)
def _await_fit(code: str, begun: bool) -> None:
    """Say that a fit comes by itself, and run the page again once it is under way or saved."""
    if (fit_stage(code) is not None) != begun:
        st.rerun()
    elements.quiet(UNDER_WAY if begun else COMING)


COMING = "They come by themselves once nothing more is added and no test is running."
UNDER_WAY = "They are being worked out."
NOT_CONCLUDED = "They were worked out by an earlier version or stopped early, so parts are missing."


def under_way(measure: str, curves_kept: bool) -> str:
    """Return the notice that a fit is under way, before or after its curves are saved."""
    if curves_kept:
        return (
            f"The curves of {measure.lower()} are there. What follows from them is still being"
            " worked out: what has changed, what to test next, what may be wrong in the data."
            " This page shows it as soon as it is there."
        )
    return (
        f"The curves of {measure.lower()} are being worked out. This page shows them as soon as"
        " they are there."
    )


def behind_sentences(why: Behind) -> list[str]:
    """Return why curves are out of date, one sentence for each reason."""
    sentences = {
        newer_sentence(why.newer): bool(why.newer),
        "The standard volume was changed since.": why.standard_volume is not None,
        "The smallest change worth having was changed since.": why.worthwhile_pct is not None,
        without_sentence(why.without): bool(why.without),
        "The file from other clubs has changed since.": why.others_changed,
        NOT_CONCLUDED: why.stopped_early,
    }
    return [sentence for sentence, applies in sentences.items() if applies]


def newer_sentence(newer: int) -> str:
    """Return the notice that stored efforts are newer than the curves."""
    verb = "is" if newer == 1 else "are"
    return f"{counted(newer, 'new effort')} {verb} not in the curves yet."


def without_sentence(athletes: int) -> str:
    """Return the notice that athletes were added after the curves."""
    verb = "has" if athletes == 1 else "have"
    return f"{counted(athletes, 'athlete')} {verb} been added since, and {verb} no curve yet."
