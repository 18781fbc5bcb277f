"""The form in which a coach sets one athlete's length, and says why."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import streamlit as st

from dashboard.core import numbers
from dashboard.core.numbers import Row

NEEDS_REASON = (
    "Say in a few words why it is not the athlete's own length, so that it can be looked at"
    " afterwards."
    " Nothing has been kept yet; what was typed is still there."
)


def length_form(
    rows: Sequence[Row],
    names: Mapping[str, str],
    sentence: Callable[[Row], str],
    unit: str,
    key: str,
) -> tuple[Row, float, str] | None:
    """Ask for a length; return the athlete's row, length and reason once it may be kept.

    Parameters
    ----------
    rows
        Of athletes: `athlete`, `advised` (may be missing), `standard`, `set` (may be missing) and
        `reason`.
    names
        Names by code.
    sentence
        What to tell of one of the rows.
    unit
        Volume unit in words.
    key
        Tells forms of different days, measures and goals apart.
    """
    by_code = {row["athlete"]: row for row in rows}
    athlete = st.selectbox(
        "Athlete, or click a row below",
        list(by_code),
        format_func=lambda code: names[code],
        key="plan_athlete",
    )
    row = by_code[athlete]
    with st.form(f"choice_{key}_{athlete}"):
        st.write(sentence(row))
        with st.container(horizontal=True, vertical_alignment="bottom"):
            length = st.number_input(
                f"Length in {unit}",
                min_value=0.0,
                value=numbers.first_known(row["set"], row["advised"], row["standard"]),
                step=1.0,
                format="%g",
                key=f"plan_volume_{key}_{athlete}",
            )
            reason = st.text_input(
                "Reason, needed when it is not the own length",
                value=row["reason"],
                max_chars=160,
                key=f"plan_reason_{key}_{athlete}",
            )
            submitted = st.form_submit_button("Keep this length", type="primary")
    if submitted and length != row["advised"] and not reason.strip():
        st.error(NEEDS_REASON)
    elif submitted:
        return row, float(length), reason.strip()
    return None


def choose_clicked(rows: Sequence[Row], table: str) -> None:
    """Put the athlete of the row that was clicked in a table into the form."""
    picked = st.session_state[table]["selection"]["rows"]
    if picked:
        st.session_state["plan_athlete"] = rows[picked[0]]["athlete"]
