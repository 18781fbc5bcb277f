"""What may be wrong in the data: a list to work through; every decision can be undone."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard.core import columns
from dashboard.core.numbers import counted, decimal, whole
from dashboard.data import finding_words
from dashboard.data.finding_forms import finding_form
from dashboard.data.set_aside_editor import edit_set_aside
from dashboard.fits.usual_terms import latest_fit
from dashboard.rules import status_words
from dashboard.screen import doing, elements, notices, selection
from dashboard.screen.access import require
from dashboard.screen.reads import ask, own_store
from db.fits.finding_decisions import undo_decision
from db.fits.findings import decided_findings, effort_limit, finding_efforts, open_findings
from db.fits.results import KeptFit
from db.imports.corrections import correctable_rows
from db.roster.measures import Measure
from db.roster.statuses import painful_sessions
from db.roster.warm_ups import far_warm_ups

SHOWN = 5

person = require("director", "coach")
st.title("Data checks")
names = selection.athlete_labels(active_only=False)
if not names:
    selection.no_athletes_yet()
    st.stop()
store = own_store()
doing.show_said()
turn = doing.turn()


def show_findings(measure: Measure, fit: KeptFit) -> None:
    """Show what is still to be decided, and what was."""
    limit = ask(effort_limit, measure.code)
    if limit is None:
        notices.work_out_again(
            person,
            measure,
            "which did not look through the data behind them",
            "see what may be wrong",
        )
        return
    notices.newer_data_notice(person, measure, fit)
    found = ask(open_findings, measure.code)
    count = counted(len(found), "finding")
    st.header("Nothing to decide" if found.empty else f"{count} to decide")
    st.write(finding_words.counts_sentence(found, fit.efforts, fit.sessions))
    elements.quiet(
        f"An effort is listed if it lies at least {decimal(limit, 1)} times the athlete's own noise"
        f" from the curve. About one correct effort in {whole(4000)} does. Nothing changes until"
        " you decide; curves change with the next update."
        + (" Findings about other squads too are for the director." * person.limited)
    )
    efforts = ask(finding_efforts, measure.code)
    for row in finding_words.finding_rows(found.head(SHOWN)):
        own = efforts[efforts["finding_id"] == row["finding_id"]]
        finding_form(store, person.person, row, own, measure, names, turn, doing.do)
    if len(found) > SHOWN:
        elements.quiet(
            f"The first {SHOWN} are shown, {len(found) - SHOWN} more to follow as these are"
            " decided."
        )
    show_decided(measure, efforts)


def show_decided(measure: Measure, efforts: pd.DataFrame) -> None:
    """Show what was decided, with a way to undo it."""
    decided = ask(decided_findings, measure.code)
    if decided.empty:
        return
    st.header(f"{counted(len(decided), 'decision')}")
    rows = finding_words.finding_rows(decided)
    labels = {
        int(row["decision_id"]): finding_words.decided_label(
            row, efforts[efforts["finding_id"] == row["finding_id"]], measure, names
        )
        for row in rows
    }
    st.dataframe(
        pd.DataFrame(
            {
                "when": decided["decided_at"],
                "who": decided["decided_by"],
                "what": list(labels.values()),
                "why": decided["reason"],
            }
        ),
        hide_index=True,
        column_config={"when": columns.moments(timezone="UTC")},
        alt="Decisions about findings, newest first",
    )
    with st.form(f"undo_{turn}"):
        chosen = st.selectbox(
            "Decision to undo", list(labels), format_func=lambda one: labels[one], key="undo_which"
        )
        why = st.text_input("Reason", max_chars=160, key=f"undo_why_{turn}")
        if st.form_submit_button("Undo it"):
            doing.do(
                "Undone: the efforts are as they were before, and the finding is open again.",
                lambda: undo_decision(store, chosen, why, person.person),
            )


measure = selection.choose_measure()
fit = ask(latest_fit, measure.code)
if fit is None:
    notices.no_curves_yet(person, measure)
else:
    show_findings(measure, fit)

in_pain = ask(painful_sessions, measure.code)
if not in_pain.empty:
    st.header("Measured in pain")
    st.write(status_words.painful_sentence(in_pain))
    st.dataframe(
        status_words.painful_table(in_pain),
        hide_index=True,
        column_config={"started_at": columns.moments("started")},
        alt="Sessions with maximal efforts in which pain was answered yes, newest first",
    )

far = ask(far_warm_ups, measure.code)
if not far.empty:
    st.header("Far longer warm-ups")
    st.write(status_words.far_sentence(far))

aside = ask(correctable_rows)
without = aside[(aside["at_fault"] == "volume_before") & (aside["measure"] == measure.code)]
if not without.empty:
    st.header("Rows set aside without a volume")
    st.write(
        f"A routine session says nothing about warming up unless it says how many"
        f" {measure.volume_unit} came before. Fill in volume_before, and save."
    )
    if stored := edit_set_aside(store, person, without):
        doing.do(stored, lambda: None)
