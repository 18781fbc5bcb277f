"""Pauses between efforts: remaining warmth against a plain loop, slopes against differences."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import approx_fprime

from modeling import ModelError
from modeling.curve.account import CONSTANTS, Account, Circumstances, Work
from modeling.curve.pauses import counted_after_pauses, pause_minutes
from modeling.efforts.observations import arrange

AROUND = Circumstances(12.0, 9.0, 5.0, 10.0)
ACCOUNT = Account(0.4, 18.0, 0.01, 0.02)


def paused(before: float, since: float, pause: float) -> Work:
    work = Work.of(np.array([before]), np.array([since]), AROUND)
    return replace(work, pause=np.full_like(work.since, pause))


@given(
    before=st.floats(0.0, 60.0),
    efforts=st.integers(0, 40),
    pause=st.one_of(st.just(0.0), st.floats(1e-9, 60.0)),
)
def test_warmth_leaves_in_each_pause(before: float, efforts: int, pause: float) -> None:
    warm = (before + 0.4 * AROUND.general_minutes) * 2.0 ** (-AROUND.rest_minutes / 18.0)
    for _ in range(efforts):
        warm = warm * 2.0 ** (-pause / 18.0) + 1.0
    found = ACCOUNT.in_effect(paused(before, float(efforts), pause))[0]
    assert found / ACCOUNT.stretch(AROUND) == pytest.approx(warm, rel=1e-9, abs=1e-12)


def test_without_pauses_the_numbers_stay_exactly_the_same() -> None:
    rng = np.random.default_rng(1)
    volume = rng.uniform(0.0, 60.0, 200)
    work = Work.of(volume, np.arange(200.0), AROUND)
    kept = np.exp(-np.log(2.0) * work.rest / 18.0)
    before = (work.before + 0.4 * work.general) * kept
    stretch = np.exp(-0.01 * work.cold - 0.02 * work.early)
    assert (ACCOUNT.in_effect(work) == stretch * (before + work.since)).all()
    by_half_life = -stretch * before * np.log(2.0) * work.rest
    assert (ACCOUNT.slopes(work)[:, 1] == by_half_life).all()
    # Efforts without a pause keep the same numbers when others have one.
    some = replace(work, pause=np.where(np.arange(200) % 2, 0.0, 2.0))
    assert (ACCOUNT.in_effect(some) == ACCOUNT.in_effect(work))[1::2].all()
    assert (ACCOUNT.slopes(some) == ACCOUNT.slopes(work))[1::2].all()


@pytest.mark.parametrize("pause", [1e-6, 0.01, 1.5, 45.0])
@pytest.mark.parametrize("since", [0.0, 1.0, 2.5, 30.0])
def test_slopes_match_finite_differences(since: float, pause: float) -> None:
    work = paused(7.0, since, pause)

    def in_effect(inner: np.ndarray) -> float:
        outer = {c.name: c.outer(float(x)) for c, x in zip(CONSTANTS, inner, strict=True)}
        return float(Account(**outer).in_effect(work)[0])

    inner = np.array([c.inner(getattr(ACCOUNT, c.name)) for c in CONSTANTS])
    expected = approx_fprime(inner, in_effect, 1e-8)
    assert ACCOUNT.slopes(work)[0] == pytest.approx(expected, rel=1e-4, abs=1e-5)


def test_slopes_where_warmth_does_not_leave() -> None:
    """An infinite half-life has the inner value 0, where the slope is that of the limit."""
    work, small = paused(7.0, 6.0, 2.0), 1e-5
    none, little = (replace(ACCOUNT, half_life_minutes=each) for each in (np.inf, 1.0 / small))
    moved = (little.in_effect(work) - none.in_effect(work)) / small
    assert none.slopes(work)[0, 1] == pytest.approx(moved[0], rel=1e-3)


@given(since=st.floats(0.0, 40.0), lost=st.floats(0.0, 1e-6))
def test_the_limit_for_tiny_losses_joins_the_general_formula(since: float, lost: float) -> None:
    """To second order the sum of a geometric series is n - lost n (n - 1) / 2."""
    counted, slope = counted_after_pauses(np.array([since]), np.array([lost]))
    assert counted[0] == pytest.approx(since - lost * since * (since - 1.0) / 2.0, abs=1e-7)
    assert slope[0] == pytest.approx(-since * (since - 1.0) / 2.0, rel=1e-3, abs=1e-4)


def test_a_pause_is_the_rest_beyond_what_was_asked_for() -> None:
    done = np.array([75.0, 15.0, 5.0, np.nan])
    assert pause_minutes(done, 15.0).tolist() == [1.0, 0.0, 0.0, 0.0]
    assert pause_minutes(done, None).tolist() == [0.0] * 4


def test_pauses_are_read_from_the_efforts() -> None:
    table = pd.DataFrame(
        {
            "athlete": "A1",
            "session": ["a", "a", "b", "b"],
            "volume": [10.0, 12.0, 10.0, 12.0],
            "effort_rest_seconds": [135.0, 135.0, np.nan, np.nan],
        }
    )
    values = [40.0, 41.0, 40.0, 41.0]
    (asked,) = arrange(table, values, effort_rest_seconds=15.0)
    assert asked.work.pause.tolist() == [2.0, 2.0, 0.0, 0.0]
    q = 2.0 ** (-2.0 / Account().half_life_minutes)
    assert asked.volume == pytest.approx([10.0, 10.0 * q**2 + 1.0 + q, 10.0, 12.0])
    (passed_over,) = arrange(table, values)
    assert passed_over.volume.tolist() == [10.0, 12.0, 10.0, 12.0]
    with pytest.raises(ModelError, match="an effort_rest_seconds that is not between 0 and 3600"):
        arrange(table.assign(effort_rest_seconds=-1.0), values)
