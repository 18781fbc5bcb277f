"""The plan of a training day: everybody's length, kept one by one or all as advised."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

import pandas as pd
import streamlit as st

from dashboard.core import cautions, columns, numbers, terms
from dashboard.core.numbers import Row
from dashboard.game import prevention_words
from dashboard.rules.club_limits import check_choice
from dashboard.screen import elements
from dashboard.screen.reads import ask, own_store
from dashboard.screen.status_form import able_labels, show_left_out
from dashboard.today import training_table, training_words
from dashboard.today.length_form import choose_clicked, length_form
from dashboard.today.training_plan import plan_rows
from db.errors import StoreError
from db.fits.results import KeptFit
from db.people.accounts import Person
from db.plans.lengths import PlanEntry, save_choice
from db.roster.measures import Measure


def show_training(
    person: Person, measure: Measure, fit: KeptFit, day: date, goal: str, to_follow: int
) -> None:
    """Show what is advised and set for a day without a first whistle, and keep what is set."""
    unit, standard = measure.volume_unit, fit.standard_volume
    everyone = ask(plan_rows, measure.code, day, to_follow)
    names = able_labels()
    rows = _here(everyone, names)
    if rows.empty:
        st.info("Nobody is left for this session. Take somebody out of 'Not here today'.")
        return

    def entry(row: Row, volume: float, reason: str) -> PlanEntry:
        advised = row["length"]
        return PlanEntry(
            day=day,
            athlete=row["athlete"],
            measure=measure.code,
            goal=goal,
            efforts_to_follow=to_follow,
            advised_volume=None if pd.isna(advised) else advised,
            standard_volume=standard,
            chosen_volume=volume,
            reason=reason,
        )

    st.header("Your choice")
    listed = [
        row | {"set": row["chosen_volume"], "advised": row["length"], "standard": standard}
        for row in rows.to_dict("records")
    ]
    chosen = length_form(
        listed,
        names,
        lambda row: training_words.choice_sentence(row, standard, unit),
        unit,
        f"{measure.code}_{day}_{to_follow}",
    )
    if chosen:
        keep_choices(person, [entry(*chosen)])
    elements.quiet(training_words.plan_caption(rows, fit, unit, to_follow))
    _show_table(rows, listed, standard, unit)
    st.write(f"{prevention_words.PREVENTION} {cautions.CAUTION}")
    unset = rows[rows["chosen_volume"].isna() & rows["length"].notna()]
    with st.container(horizontal=True, vertical_alignment="center"):
        if len(unset) and st.button(
            f"Keep the advised length for {numbers.counted(len(unset), 'athlete')} not set yet",
            key="keep_advised",
        ):
            keep_choices(
                person, [entry(row, row["length"], "") for row in unset.to_dict("records")]
            )
        _offer_sheet(measure, day, kept=bool(rows["chosen_volume"].notna().any()))


def _here(everyone: pd.DataFrame, names: Mapping[str, str]) -> pd.DataFrame:
    """Ask who is away, and return the rows of the others."""
    show_left_out()
    away = st.multiselect(
        "Not here today",
        list(names),
        format_func=lambda code: names[code],
        key="plan_away",
        persist_state="session",
        placeholder="Everybody is here",
    )
    return everyone[~everyone["athlete"].isin(away)].reset_index(drop=True)


def _show_table(rows: pd.DataFrame, listed: Sequence[Row], standard: float, unit: str) -> None:
    st.dataframe(
        training_table.day_plan(rows, standard),
        key="plan_table",
        hide_index=True,
        height="content",
        on_select=lambda: choose_clicked(listed, "plan_table"),
        selection_mode="single-row",
        placeholder="",
        column_config={
            "set": columns.values(f"set, {unit}"),
            "length": columns.values(help=terms.meaning("length")),
            "standard": columns.values(help=terms.meaning("standard")),
            "lost %": columns.decimals(1, help=terms.meaning("loss")),
        },
        alt=f"What is advised and what is set for {len(rows)} athletes",
    )


def _offer_sheet(measure: Measure, day: date, kept: bool) -> None:
    if kept:
        st.link_button(
            "Sheet to print (PDF)",
            f"/download/sheet.pdf?day={day}&measure={measure.code}",
            key="plan_sheet",
        )
    else:
        elements.quiet("The sheet prints what is kept: keep the lengths first.")


def keep_choices(person: Person, choices: Sequence[PlanEntry]) -> None:
    """Keep choices and show them, or say what was wrong with one."""
    try:
        for choice in choices:
            check_choice(own_store(), choice)
        for choice in choices:
            save_choice(own_store(), choice, person.person)
    except StoreError as error:
        st.error(f"{error.title}. {error.message}")
        return
    st.rerun()
