"""After a game or session: what was done of the plan, and the value that it led to."""

from __future__ import annotations

from datetime import date

import pandas as pd
import streamlit as st

from dashboard.core import numbers
from dashboard.game.tables import DONE_WORDS, done_word, outcome_table
from dashboard.screen import doing, elements
from dashboard.screen.reads import ask, own_store
from db.people.accounts import Person
from db.plans.lengths import plans
from db.plans.outcomes import Outcome, record_outcomes, start_values
from db.roster.measures import Measure


def show_after(person: Person, measure: Measure, day: date, second_game: bool) -> None:
    """Show what was done of what is kept for a day, and record it; nothing before the day."""
    rows = ask(plans, day, measure.code, second_game)
    if rows.empty or day > date.today():
        return
    values = ask(start_values, day, measure.code, second_game).set_index("athlete")["value"]
    counts = pd.Series([done_word(row) for row in rows.to_dict("records")]).value_counts()
    # By its key it stays open while what stands above comes and goes.
    past = day < date.today()
    with st.expander("Afterwards: what was done", past, key=f"after_box_{measure.code}_{day}"):
        elements.quiet(
            " · ".join(f"{word}: {int(counts.get(word, 0))}" for word in DONE_WORDS)
            + f" · start value measured: {rows['athlete'].isin(values.index).sum()} of {len(rows)}"
        )
        _record_one(person, measure, rows, values)
        _record_rest(person, rows, values)
        st.dataframe(
            outcome_table(rows),
            key="after_table",
            hide_index=True,
            height="content",
            placeholder="",
            alt=f"What was set for {len(rows)} athletes, what was done, and the start values",
        )


def _record_one(person: Person, measure: Measure, rows: pd.DataFrame, values: pd.Series) -> None:
    names = dict(zip(rows["athlete"], rows["name"], strict=True))
    with st.container(horizontal=True, vertical_alignment="bottom"):
        code = st.selectbox(
            "Who did it otherwise",
            list(names),
            format_func=lambda code: names[code],
            key="after_athlete",
        )
        [row] = rows[rows["athlete"] == code].to_dict("records")
        key = f"{row['plan_id']}_{doing.turn()}"
        done = st.number_input(
            f"Did, in {measure.volume_unit}; 0 is skipped",
            0.0,
            10_000.0,
            numbers.first_known(row["done_volume"], row["chosen_volume"]),
            1.0,
            format="%g",
            key=f"after_done_{key}",
        )
        value = st.number_input(
            f"Start value, {measure.unit}",
            0.0,
            None,
            _known(row["outcome"], values.get(code)),
            format="%g",
            key=f"after_value_{key}",
            placeholder="not measured",
        )
        if st.button("Record", key="after_record"):
            outcome = Outcome(int(row["plan_id"]), float(done), value or None)
            doing.do(
                f"Recorded for {row['name']}.",
                lambda: record_outcomes(own_store(), [outcome], person.person),
            )


def _record_rest(person: Person, rows: pd.DataFrame, values: pd.Series) -> None:
    open_rows = rows[rows["done_volume"].isna()].to_dict("records")
    if not open_rows:
        return
    many = numbers.counted(len(open_rows), "athlete")
    if st.button(f"The other {many} did it as planned", key="after_rest"):
        outcomes = [
            Outcome(
                int(row["plan_id"]),
                row["chosen_volume"],
                _known(row["outcome"], values.get(row["athlete"])),
            )
            for row in open_rows
        ]
        doing.do(
            f"Recorded for {many}.", lambda: record_outcomes(own_store(), outcomes, person.person)
        )


def _known(*found: float | None) -> float | None:
    return next((float(each) for each in found if each is not None and not pd.isna(each)), None)
