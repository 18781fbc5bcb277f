"""Answer what pages ask the store, from memory until the store changes.

This module decides whose rows an answer holds. Only who is signed in counts, never what a page or
its address says: `db.people.sight` takes the rows of all other athletes out of the store.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Concatenate, ParamSpec, TypeVar

import pandas as pd
import streamlit as st

from dashboard.core.once import one_answer
from dashboard.fits.usual_terms import latest_fit
from dashboard.screen.access import signed_in
from dashboard.screen.web_sessions import running_store
from db.efforts.rows import data_summary
from db.file.held_store import Seen
from db.file.store import Store
from db.people.accounts import Person
from db.people.private_links import private_links
from db.people.sight import Sight, in_sight, seen_by, sight_of
from db.roster.measures import Measure, list_measures

Args = ParamSpec("Args")
Answer = TypeVar("Answer")


def ask(
    question: Callable[Concatenate[Store, Args], Answer], *args: Args.args, **kwargs: Args.kwargs
) -> Answer:
    """Return `question(store, ...)` for whoever looks, remembered until the store changes."""
    return ask_for(signed_in(), question, *args, **kwargs)


def ask_for(
    person: Person,
    question: Callable[Concatenate[Store, Args], Answer],
    *args: Args.args,
    **kwargs: Args.kwargs,
) -> Answer:
    """Return the same as `ask`, for a route that has found out itself who looks."""
    answer: Answer = _remembered(sight_of(person), question, args, kwargs)
    return answer


def own_store() -> Store:
    """Return the store as the person on this page sees it, to write to it."""
    return in_sight(running_store(), sight_of(signed_in()))


def seen_by_staff(person: Person) -> list[Person]:
    """Return the staff who may see the athlete on this page."""
    # Athletes cannot see accounts, but may know which of them see their data.
    own = person.athlete
    staff: list[Person] = _remembered(None, seen_by, (own,), {}) if own else []
    return staff


def open_links(person: Person, athlete: str) -> pd.DataFrame:
    """Return the private links to an athlete's curve that still open, newest first."""
    links = ask_for(person, private_links, athlete)
    # A link may have expired since the store last changed.
    return links[links["expires_at"] > pd.Timestamp.now("UTC")]


def _remembered(
    sight: Sight | None,
    question: Callable[..., Any],
    args: tuple[Any, ...],
    kwargs: Mapping[str, Any],
) -> Any:
    store, name = running_store(), f"{question.__module__}.{question.__qualname__}"
    return _answer(str(store.path), store.state(), sight, name, args, kwargs, question)


@st.cache_data(max_entries=1000, show_spinner=False)
def _answer(
    path: str,
    state: Seen,
    sight: Sight | None,
    name: str,
    args: tuple[Any, ...],
    kwargs: Mapping[str, Any],
    _question: Callable[..., Any],
) -> Any:
    seen = in_sight(running_store(), sight)
    with seen.at_one_state(), one_answer():
        return _question(seen, *args, **kwargs)


def measures_in_use(store: Store) -> list[Measure]:
    """Return the measures that somebody in sight has data of, or that have a fit."""
    measured = set(data_summary(store)["measure"])
    return [
        each
        for each in list_measures(store)
        if each.code in measured or latest_fit(store, each.code)
    ]
