"""What pages ask of the store, answered from memory until the store changes.

Whose rows an answer holds is decided here, by who is signed in and by nothing that a page or
its address says: `db.sight` takes the rows of all other athletes out of the store.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Concatenate, ParamSpec, TypeVar

import pandas as pd
import streamlit as st

from dashboard import charts
from dashboard.access import signed_in
from dashboard.usual_terms import curves, latest_fit, responses
from dashboard.web_sessions import running_store
from db.athletes import list_athletes
from db.efforts import data_summary
from db.measures import Measure, list_measures
from db.people import Person
from db.sight import Sight, in_sight, seen_by, sight_of
from db.store import Store

Args = ParamSpec("Args")
Answer = TypeVar("Answer")


def ask(
    question: Callable[Concatenate[Store, Args], Answer], *args: Args.args, **kwargs: Args.kwargs
) -> Answer:
    """Return `question(store, ...)` for whoever looks, remembered until the store changes."""
    store, sight = running_store(), sight_of(signed_in())
    name = f"{question.__module__}.{question.__qualname__}"
    answer: Answer = _answer(str(store.path), store.revision(), sight, name, args, kwargs, question)
    return answer


def own_store() -> Store:
    """Return the store as it looks to whoever looks at this page, to write to it."""
    return in_sight(running_store(), sight_of(signed_in()))


def seen_by_staff() -> list[Person]:
    """Return the staff who may see the athlete who looks."""
    own = signed_in().athlete
    return seen_by(running_store(), own) if own else []


@st.cache_data(max_entries=300, show_spinner=False)
def _answer(
    path: str,
    revision: int,
    sight: Sight | None,
    name: str,
    args: tuple[Any, ...],
    kwargs: Mapping[str, Any],
    _question: Callable[..., Any],
) -> Any:
    store = running_store()
    # However much the question reads, the file is opened once.
    with store.reading():
        return _question(in_sight(store, sight), *args, **kwargs)


def measures_in_use(store: Store) -> list[Measure]:
    """Return the measures that somebody in sight has data of, or that have a fit."""
    measured = set(data_summary(store)["measure"])
    return [
        each
        for each in list_measures(store)
        if each.code in measured or latest_fit(store, each.code)
    ]


def squad(store: Store, measure: str) -> pd.DataFrame:
    """Return the active athletes' responses, longest first, each with its `small_curve`."""
    rows = responses(store, measure)
    rows = rows[rows["active"]].sort_values("best_volume", ascending=False)
    small = charts.small_curves(curves(store, measure))
    return rows.assign(small_curve=rows["athlete"].map(small)).reset_index(drop=True)


def evidence_gaps(store: Store, measure: str) -> pd.DataFrame:
    """Return the active athletes without a firm call, those with least data first.

    Columns: `athlete, name, sessions, fade_tests, efforts, last_session, reach`; counts are of
    the stored data, `reach` is missing before the first fit.
    """
    people = list_athletes(store, active_only=True)[["athlete", "name"]]
    summary = data_summary(store)
    counts = summary[summary["measure"] == measure]
    counts = counts[["athlete", "sessions", "fade_tests", "efforts", "last_session"]]
    calls = responses(store, measure)[["athlete", "call", "reach"]]
    rows = people.merge(counts, on="athlete", how="left").merge(calls, on="athlete", how="left")
    numbers = ["sessions", "fade_tests", "efforts"]
    rows[numbers] = rows[numbers].fillna(0).astype(int)
    unknown = rows[~rows["call"].isin(["short", "long", "either"])]
    return unknown.sort_values(["sessions", "efforts", "name"]).reset_index(drop=True)
