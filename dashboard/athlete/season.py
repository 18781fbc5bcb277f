"""An athlete's season and sessions, for the athlete and for their coaches."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd
import streamlit as st

from dashboard.athlete import change_words
from dashboard.athlete.season_chart import season_figure
from dashboard.core import columns, numbers
from dashboard.fits.usual_terms import best_volume_changes
from dashboard.rules import match_days
from dashboard.rules.test_days import athlete_days
from dashboard.screen import elements, notices, pictures, units
from dashboard.screen.reads import ask
from db.fits.results import session_peaks
from db.roster.measures import Measure

OWN_COLUMNS = (
    "started_at",
    "game day",
    "kind",
    "efforts",
    "largest_volume",
    "lowest_value",
    "highest_value",
)
ALL_COLUMNS = (
    "started_at",
    "game day",
    "kind",
    "context",
    "efforts",
    "excluded_efforts",
    "largest_volume",
    "lowest_value",
    "highest_value",
    "note",
)
"""Columns of `db.efforts.rows.sessions`, and where the day lies between games."""


def show_season(measure: Measure, row: numbers.Row, tests: pd.DataFrame) -> None:
    """Show the level of every session and whether the best volume has changed.

    `row` is the athlete's result and `tests` the rows of `db.efforts.rows.sessions`.
    """
    athlete = row["athlete"]
    levels = ask(session_peaks, measure.code, athlete)
    if levels.empty:
        return
    change = elements.row_of(ask(best_volume_changes, measure.code, athlete), athlete)
    sentence = change_words.change_sentence(change, measure.volume_unit, row["sessions"])
    elements.quiet(
        "points: what would have been shown at the peak on the day, by the sessions around it too"
    )
    scale = units.shown(measure.unit)
    levels = levels.assign(peak_value=scale.of(levels["peak_value"]))
    pictures.show(
        pictures.draw(
            season_figure,
            levels.merge(tests[["session_id", "efforts"]], on="session_id"),
            change,
            scale.unit,
            elements.screen_palette(),
        ),
        key=f"season_{measure.code}_{athlete}",
        alt=f"Level of {numbers.counted(len(levels), 'session')} over the season. {sentence}",
    )
    if change is not None or not notices.follow_fit(measure):
        st.write(sentence)


def show_sessions(
    tests: pd.DataFrame, measure: Measure, alt: str, shown: Sequence[str] = ALL_COLUMNS
) -> None:
    """Show sessions, the newest first, from rows of `db.efforts.rows.sessions`."""
    scale = units.shown(measure.unit)
    ends = {name: scale.of(tests[name]).round(2) for name in ("lowest_value", "highest_value")}
    known = ask(athlete_days)
    around = [
        known[code].around(at.date())
        for code, at in zip(tests["athlete"], tests["started_at"], strict=True)
    ]
    st.dataframe(
        tests.assign(**ends, **{"game day": around})[list(shown)],
        hide_index=True,
        placeholder="",
        column_config={
            "started_at": columns.moments("started"),
            "game day": st.column_config.TextColumn(help=match_days.MEANING),
            "excluded_efforts": "not used",
            "largest_volume": f"most {measure.volume_unit} before",
            "lowest_value": columns.values(f"lowest, {scale.unit}"),
            "highest_value": columns.values(f"highest, {scale.unit}"),
        },
        alt=alt,
    )
