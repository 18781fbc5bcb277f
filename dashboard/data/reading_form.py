"""How a file is read, on the page: a sentence for each column, and questions as choices."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, time
from itertools import groupby

import pandas as pd
import streamlit as st

from dashboard.core.numbers import counted, listed
from dashboard.screen.elements import SHOWN_ROWS, bullets, quiet
from db.imports.mappings import OWN_UNITS
from db.layouts.laid_out import LaidOut
from db.readings.column_roles import NOT_READ
from db.readings.readings import ColumnReading, Question, Reading
from db.readings.sentences import MEANINGS
from db.tables.cells import CONTEXTS, LIMITS

LONG_ROW = 4
"""So many columns of one kind next to each other share one sentence."""
EVERY_ROW = ("context", "general_minutes", "rest_minutes", "ambient_c", "load_kg")
MOST_BUTTONS = 4
"""More choices become a drop-down list."""
_SHOWN_LEFT_OUT = 5


def answers_given(key: str) -> dict[str, str]:
    """Return the answers given on the page so far for one file.

    Parameters
    ----------
    key : str
        The file's own key.
    """
    begin = _begin(key)
    given = {
        str(name).removeprefix(begin): _as_text(value)
        for name, value in st.session_state.items()
        if str(name).startswith(begin)
    }
    return {name: text for name, text in given.items() if text}


def show_reading(laid: LaidOut, reading: Reading, key: str) -> None:
    """Show how a file is read, ask what is open, and let people change columns."""
    if reading.remembered:
        st.write(f"Read as **{reading.name}** was, the last file with these columns.")
    for note in laid.notes:
        st.warning(note)
    bullets(sentences_of(reading.columns))
    for question in reading.questions:
        _ask(question, key)
    if reading.left_out:
        shown = [f"line {each.line} ({each.why})" for each in reading.left_out[:_SHOWN_LEFT_OUT]]
        more = " and more" if len(reading.left_out) > _SHOWN_LEFT_OUT else ""
        quiet(
            f"{counted(len(reading.left_out), 'line')} left out, as no effort is in them: "
            f"{', '.join(shown)}{more}."
        )
    with st.expander("Change what a column is"):
        asked = {question.key for question in reading.questions}
        for column, title in laid.titles.items():
            if f"column:{column}" not in asked:
                _change(column, title, key)
    with st.expander("Facts that are the same on every row"):
        for fact in EVERY_ROW:
            _ask_of_every_row(fact, key)


def sentences_of(columns: Sequence[ColumnReading]) -> list[str]:
    """Return how columns are read; many of one kind next to each other share one sentence."""
    sentences: list[str] = []
    for (meaning, *_), same in groupby(
        columns, lambda each: (each.meaning, each.measure, each.unit)
    ):
        group = list(same)
        if meaning == "value" and len(group) >= LONG_ROW:
            first, last = group[0].sentence.rstrip("."), group[-1].column
            sentences.append(f"{first}, and so on to `{last}`.")
        elif not meaning and len(group) > 1 and all(not each.sure for each in group):
            names = listed([f"`{each.column}`" for each in group])
            sentences.append(f"{names} are not read.")
        else:
            sentences += [each.sentence for each in group]
    return sentences


def show_beside(laid: LaidOut, stored: pd.DataFrame | None) -> None:
    """Show the first rows as they are in the file; of those to be saved, if any are known."""
    rows = laid.table.frame
    if stored is not None and not stored.empty:
        rows = rows.loc[sorted(set(stored["line"].head(SHOWN_ROWS)))]
    own = rows.head(SHOWN_ROWS).rename(columns=dict(laid.titles)).reset_index()
    quiet("The first rows as they stand in the file:")
    st.dataframe(own, hide_index=True, alt="The first rows as they stand in the file")


def _ask(question: Question, key: str) -> None:
    name = _begin(key) + question.key
    if question.form == "time":
        st.time_input(question.text, None, key=name)
    elif question.form == "number":
        st.number_input(question.text, 0.0, None, None, 1.0, format="%g", key=name)
    elif question.form == "day":
        st.date_input(question.text, None, max_value=date.today(), key=name)
    else:
        labels = {choice.value: choice.label for choice in question.choices}
        if len(labels) <= MOST_BUTTONS:
            st.radio(
                question.text,
                list(labels),
                format_func=lambda value: labels.get(value, value),
                index=None,
                key=name,
            )
        else:
            st.selectbox(
                question.text,
                list(labels),
                format_func=lambda value: labels.get(value, value),
                index=None,
                key=name,
            )


def _change(column: str, title: str, key: str) -> None:
    choices = {"": "as it is read", "value": "the value", **MEANINGS, NOT_READ: "not read"}
    st.selectbox(
        title,
        list(choices),
        format_func=lambda meaning: choices[meaning],
        key=f"{_begin(key)}column:{column}",
    )


def _ask_of_every_row(fact: str, key: str) -> None:
    label, name = MEANINGS[fact].capitalize(), f"{_begin(key)}every row:{fact}"
    if fact == "context":
        st.selectbox(label, CONTEXTS, index=None, key=name)
    else:
        unit = OWN_UNITS.get(fact, "")
        low, high = map(float, LIMITS[fact])
        st.number_input(
            f"{label} ({unit})" if unit else label, low, high, None, 1.0, format="%g", key=name
        )


def _begin(key: str) -> str:
    return f"said_{key}|"


def _as_text(value: object) -> str:
    if isinstance(value, time):
        return value.isoformat("minutes")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return f"{value:g}"
    return value if isinstance(value, str) else ""
