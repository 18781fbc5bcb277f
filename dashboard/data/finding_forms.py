"""One finding on the screen: what was found, its values, and what can be decided."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import pandas as pd
import streamlit as st

from dashboard.core import columns, dates
from dashboard.core.numbers import counted, figures, whole
from dashboard.data import finding_words
from dashboard.data.finding_words import FindingRow
from dashboard.screen import elements, units
from db.file.store import Store
from db.fits.finding_decisions import (
    accept_finding,
    correct_finding,
    exchange_finding,
    exclude_finding,
)
from db.roster.measures import Measure

Do = Callable[[str, Callable[[], object]], None]
"""Does what was asked and says that it is done, or why not."""

SHOWN_EFFORTS = 60
TABLE_ROWS = 8
MULTIPLIED = ("unit", "jump", "device")
RIGHT = {"effort": "It is right", "duplicate": "Both are right"}


@dataclass(frozen=True)
class _Multiplier:
    """What all values are to be multiplied by, and the label that says so."""

    times: float
    label: str


def finding_form(
    store: Store,
    person: str,
    row: FindingRow,
    efforts: pd.DataFrame,
    measure: Measure,
    names: Mapping[str, str],
    turn: int,
    do: Do,
) -> None:
    """Show a finding with its values beside what was expected, and take a decision."""
    number = int(row["finding_id"])
    key = f"{number}_{turn}"
    with st.container(border=True):
        st.markdown(f"**{finding_words.headline(row, efforts, measure, names)}**")
        elements.quiet(finding_words.explanation(row))
        multiplier = _multiplier(row, efforts, key)
        _show_values(row, efforts, measure, names, multiplier)
        with st.form(f"finding_{key}", border=False):
            value, copy = _asked(row, efforts, measure, names, key)
            reason = st.text_input(
                "Reason, needed to change anything", max_chars=160, key=f"finding_why_{key}"
            )
            with st.container(horizontal=True):
                right = st.form_submit_button(RIGHT.get(row["kind"], "They are right"))
                exclude = st.form_submit_button(_exclude_label(row))
                change = _change_label(row, multiplier)
                changed = bool(change) and st.form_submit_button(change)
    if right:
        do(
            "Accepted as right. It does not come back while its values stay as they are.",
            lambda: accept_finding(store, number, reason, person),
        )
    if exclude:
        ids = efforts if copy is None else efforts[efforts["session_id"] == copy]
        taken = ids["effort_id"].astype(int).tolist()
        do(
            f"{counted(len(taken), 'effort')} not used any more; nothing was deleted.",
            lambda: exclude_finding(store, number, taken, reason, person),
        )
    if changed and row["kind"] == "swap":
        do(
            "The two sessions have changed athletes. The old rows stay on record but are no longer"
            " used.",
            lambda: exchange_finding(store, number, reason, person),
        )
    elif changed:
        values = _values(efforts, value, multiplier)
        do(
            f"{counted(len(values), 'effort')} corrected; what stood there is kept.",
            lambda: correct_finding(store, number, values, reason, person),
        )


def _multiplier(row: FindingRow, efforts: pd.DataFrame, key: str) -> _Multiplier | None:
    """Ask what to divide or multiply all values by, if that may be the correction."""
    if row["kind"] not in MULTIPLIED:
        return None
    likely: float = row["factor"] if pd.notna(row["factor"]) else 1 + row["apart_pct"] / 100
    multiply = likely < 1
    what = "the value" if len(efforts) == 1 else f"all {counted(len(efforts), 'value')}"
    by = float(
        st.number_input(
            f"To {'multiply' if multiply else 'divide'} {what} by",
            min_value=0.001,
            max_value=1000.0,
            value=float(f"{1 / likely if multiply else likely:.4g}"),
            format="%g",
            key=f"finding_by_{key}",
        )
    )
    verb = "Multiply" if multiply else "Divide"
    label = f"{verb} all {whole(len(efforts))} by {figures(by)}"
    return _Multiplier(by if multiply else 1 / by, label)


def _show_values(
    row: FindingRow,
    efforts: pd.DataFrame,
    measure: Measure,
    names: Mapping[str, str],
    multiplier: _Multiplier | None,
) -> None:
    table = finding_words.values_table(efforts.head(SHOWN_EFFORTS), measure, names)
    scale = units.shown(measure.unit)
    if multiplier is not None:
        after = scale.of(efforts["value"].head(SHOWN_EFFORTS) * multiplier.times)
        table.insert(list(table.columns).index("expected"), "would be", after.round(2))
    if row["kind"] == "duplicate":
        table = table.drop(columns=["expected", "difference, %"])
    st.dataframe(
        table,
        hide_index=True,
        height="content" if len(table) <= TABLE_ROWS else 36 * (TABLE_ROWS + 1),
        column_config={"session": columns.moments()},
        alt=f"{finding_words.headline(row, efforts, measure, names)}: values beside what was"
        f" expected, in {scale.unit}",
    )
    if len(efforts) > SHOWN_EFFORTS:
        count = counted(len(efforts), "effort")
        elements.quiet(f"The first {SHOWN_EFFORTS} of {count} are shown.")


def _asked(
    row: FindingRow,
    efforts: pd.DataFrame,
    measure: Measure,
    names: Mapping[str, str],
    key: str,
) -> tuple[float | None, int | None]:
    """Ask for the right value of an effort, or for which of two sessions is the copy."""
    if row["kind"] == "effort":
        value = stored = efforts["value"].iloc[0]
        if pd.notna(row["factor"]):
            value = float(f"{value / row['factor']:.4g}")
        return st.number_input(
            f"Right value in {measure.unit} (saved: {figures(stored, 6)})",
            value=float(value),
            format="%g",
            key=f"finding_value_{key}",
        ), None
    if row["kind"] == "duplicate":
        starts = efforts.drop_duplicates("session_id")
        labels = {
            int(one["session_id"]): f"{names.get(one['athlete'], one['athlete'])},"
            f" {dates.moment(one['started_at'])}"
            for one in starts.to_dict("records")
        }
        copy = st.selectbox(
            "The copy, not to be used",
            list(labels),
            index=len(labels) - 1,
            format_func=lambda session: labels[session],
            key=f"finding_copy_{key}",
        )
        return None, copy
    if row["kind"] == "swap":
        elements.quiet(
            "Exchanging saves each session again under the other athlete. The old rows stay on"
            " record but are no longer used. You can undo it."
        )
    return None, None


def _exclude_label(row: FindingRow) -> str:
    return {"effort": "Exclude", "duplicate": "Exclude the copy", "swap": "Exclude both"}.get(
        row["kind"], "Exclude all"
    )


def _change_label(row: FindingRow, multiplier: _Multiplier | None) -> str:
    if row["kind"] == "effort":
        return "Correct to this value"
    if row["kind"] == "swap":
        return "Exchange the two sessions"
    return "" if multiplier is None else multiplier.label


def _values(
    efforts: pd.DataFrame, value: float | None, multiplier: _Multiplier | None
) -> dict[int, float]:
    """Return the right values by effort: the one typed, or all multiplied."""
    ids = efforts["effort_id"].astype(int)
    if multiplier is None:
        return {} if value is None else {int(ids.iloc[0]): float(value)}
    multiplied = [float(f"{one * multiplier.times:.6g}") for one in efforts["value"]]
    return dict(zip(ids, multiplied, strict=True))
