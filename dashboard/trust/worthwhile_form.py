"""The form for a measure's smallest worthwhile change: what is set, and what the data propose."""

from __future__ import annotations

from dataclasses import dataclass, replace

import streamlit as st

from dashboard.core.numbers import counted, percent, percent_with_interval
from dashboard.fits.reliability_frames import MeasureReliability
from dashboard.rules.worthwhile_source import note_proposed
from dashboard.screen import doing, elements
from dashboard.screen.reads import own_store
from dashboard.trust.reliability_charts import Estimates
from db.people.accounts import Person
from db.roster.measures import LARGEST_WORTHWHILE_PCT, Measure, save_measure

USUAL_OF_BAR_SPEED = "Usual for bar speed: 3 to 6\u00a0% (common practice, no source)."
BECAUSE = {
    "spread": "a fifth of the spread between athletes",
    "noise": "the typical error of a session, as anything smaller is lost in it",
}


@dataclass(frozen=True)
class Proposal:
    """What the club's own sessions propose, in % with a 90 % interval.

    `because` is `spread` or `noise`, one of `BECAUSE`.
    """

    value: float
    low: float
    high: float
    because: str


def proposal(found: Estimates) -> Proposal | None:
    """Return a fifth of the spread between athletes, but never less than the typical error.

    None if that is not above 0, or is more than may be set.
    """
    spread, noise = found["smallest_worthwhile_pct"], found["typical_error_pct"]
    because = "spread" if spread[0] >= noise[0] else "noise"
    value, low, high = spread if because == "spread" else noise
    rounded = round(value, 1)
    if not 0 < rounded <= LARGEST_WORTHWHILE_PCT:
        return None
    return Proposal(rounded, low, high, because)


def proposal_sentence(proposed: Proposal, kept: MeasureReliability) -> str:
    """Return what is proposed with its interval, what it is, and what it rests on."""
    told = percent_with_interval(proposed.value, proposed.low, proposed.high)
    return (
        f"Your own sessions propose {told}: {BECAUSE[proposed.because]}. From"
        f" {counted(kept.sessions, 'session')} of {counted(kept.athletes, 'athlete')}."
    )


def worthwhile_form(
    person: Person, measure: Measure, found: Estimates, kept: MeasureReliability
) -> None:
    """Say what is set and what the club's data propose; a director takes it or types another."""
    proposed = proposal(found)
    with st.expander(f"Smallest change worth having: {percent(measure.worthwhile_pct)}"):
        if proposed is not None:
            st.write(proposal_sentence(proposed, kept))
        if measure.code == "bar_speed":
            st.write(USUAL_OF_BAR_SPEED)
        if person.role != "director":
            elements.quiet("A director sets it.")
            return
        if (
            proposed is not None
            and proposed.value != measure.worthwhile_pct
            and st.button(f"Take {percent(proposed.value)}", key=f"worthwhile_take_{measure.code}")
        ):
            _save(person, measure, proposed.value, taken=True)
        with st.form(f"worthwhile_{measure.code}", border=False):
            asked = st.number_input(
                "Smallest change worth having, %",
                0.1,
                LARGEST_WORTHWHILE_PCT,
                measure.worthwhile_pct,
                0.1,
                "%g",
                key=f"worthwhile_pct_{measure.code}_{doing.turn()}",
            )
            if st.form_submit_button("Set it"):
                _save(person, measure, float(asked))


def _save(person: Person, measure: Measure, value: float, taken: bool = False) -> None:
    def save() -> None:
        save_measure(own_store(), replace(measure, worthwhile_pct=value), person.person)
        if taken:
            note_proposed(own_store(), measure, value, person.person)

    doing.do(
        f"The smallest change worth having is {percent(value)}. Calls and lengths follow it when"
        " the curves are worked out again.",
        save,
    )
