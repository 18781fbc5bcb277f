"""Curves of a week ago, worked out afterwards from the data as it was then."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from dashboard.fits.earlier_data import data_of_a_week_ago
from dashboard.fits.fitting import fit_measure
from dashboard.fits.lengths import a_week_apart, response_history
from dashboard.rules.typed_efforts import typed_efforts
from dashboard.squad.changed import changed_calls
from dashboard.squad.words import changed_answer
from db.efforts.effort_changes import correct_effort, exclude_effort
from db.efforts.rows import observations, observations_of
from db.efforts.typed_sessions import SessionEntry, add_session
from db.file.checks import check
from db.file.store import Store
from db.fits.advice_bases import curve_draws
from db.fits.results import latest_fit, responses
from db.plans.weeks import fit_moments
from tests.dashboard.conftest import keep_artificial_fit

CODE, LATER = "jump_height", datetime(2026, 4, 1, 9)


def today() -> datetime:
    return datetime.now(UTC)


@pytest.fixture
def old(unfitted_store: Store) -> Store:
    return unfitted_store


def test_data_of_a_day_are_values_and_exclusions_as_they_were_then(old: Store) -> None:
    before = observations(old, CODE)
    first, second = (int(number) for number in _numbers(old)[:2])
    correct_effort(old, first, 1.5 * before["value"].iloc[0], "slip", "carl")
    exclude_effort(old, second, "fell", "carl")
    now = today().date()
    assert len(observations(old, CODE)) == len(before) - 1
    then = observations_of(old, CODE, now - timedelta(days=7), "held")
    # Compared in the order and with the columns that a fit is given.
    assert then[[*before]].equals(before)
    assert observations_of(old, CODE, now, "stored").equals(observations(old, CODE)[[*then]])
    # Everything was stored today, so a week ago there was nothing.
    assert observations_of(old, CODE, now - timedelta(days=7), "stored").empty
    last = before["started_at"].max().date()
    held = observations_of(old, CODE, last - timedelta(days=1), "held")
    assert len(held) == (before["started_at"].dt.date < last).sum() < len(before)


def _numbers(store: Store) -> list[int]:
    with store.reading() as cursor:
        return [
            row[0]
            for row in cursor.execute(
                "SELECT effort_id FROM effort_detail WHERE measure = ? AND excluded IS NULL"
                " ORDER BY athlete, started_at, session_id, effort",
                [CODE],
            ).fetchall()
        ]


def test_the_first_fit_comes_with_an_earlier_one_and_the_next_needs_none(old: Store) -> None:
    add_session(
        old,
        SessionEntry(
            athlete="A1",
            measure=CODE,
            started_at=LATER,
            kind="routine",
            efforts=typed_efforts("40 41", "15", False, "efforts"),
        ),
        "carl",
    )
    kept = fit_measure(old, CODE, "test")
    assert latest_fit(old, CODE) == kept
    moments = fit_moments(old, CODE)
    assert moments["data_basis"].tolist()[:1] == ["held"] and len(moments) == 2
    changed = changed_calls(old, CODE)
    assert changed.newest is not None and changed.newest.fit_id == kept.fit_id
    assert changed.earlier is not None and changed.earlier.fit_id != kept.fit_id
    assert changed.earlier.fitted_at.date() == (LATER - timedelta(days=7)).date()
    answer, told = changed_answer(changed)
    assert "All data of " in told and " against the sessions up to " in told
    assert data_of_a_week_ago(old, CODE) is None
    assert len(curve_draws(old, CODE)) == len(responses(old, CODE))
    history = response_history(old, CODE, "A1")
    assert history["fit_id"].tolist()[-1] == kept.fit_id and len(history) == 2
    assert check(old) == []
    # Two fits of one day are no week apart. Athlete and director both see the newest one against
    # the one of a week ago.
    newest = keep_artificial_fit(old)
    again = changed_calls(old, CODE)
    assert again.newest is not None and again.newest.fit_id == newest
    assert again.earlier == changed.earlier
    assert a_week_apart(old, CODE, "A1")["fit_id"].tolist() == [changed.earlier.fit_id, newest]


def test_with_too_little_data_then_there_is_no_earlier_fit(empty_store: Store) -> None:
    assert data_of_a_week_ago(empty_store, CODE) is None
