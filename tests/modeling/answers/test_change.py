"""Changes of best volume are found where there are some, and not reported where there are none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from modeling import ResponseModel
from modeling.answers.change import NOTHING_TOLD, BestVolumeChange, best_volume_change
from modeling.testing.simulation import Protocol
from tests.benchmarks.change import FOUND, changing_squad

Found = tuple[list[BestVolumeChange], list[bool]]


def _changes(frame: pd.DataFrame) -> list[BestVolumeChange]:
    model = ResponseModel(standard_volume=15).fit(frame, frame["value"])
    return [best_volume_change(model.fit_, each) for each in model.fit_.posteriors]


@pytest.fixture(scope="module")
def found() -> Found:
    frame, doubled = changing_squad("plateau with break", np.random.default_rng(1), athletes=15)
    return _changes(frame), doubled


def test_most_doublings_are_found_and_nothing_else(found: Found) -> None:
    changes, doubled = found
    told = np.array([change.chance >= FOUND for change in changes])
    assert told[doubled].mean() >= 0.8
    assert not told[~np.array(doubled)].any()


def test_a_doubling_is_dated_and_sized(found: Found) -> None:
    for change, true in zip(*found, strict=True):
        if true and change.chance >= FOUND:
            assert change.before is not None and change.after is not None
            assert 1.3 < change.after.median / change.before.median < 3.0
            assert change.before.low < change.before.median < change.before.high
            assert change.tellable
            sessions = [str(change.since_earliest), str(change.since_latest)]
            assert sessions[0].partition(" ")[2] <= "later A01-01" <= sessions[1].partition(" ")[2]


@pytest.mark.filterwarnings("error")
def test_chances_stay_finite_when_no_single_curve_fits_the_season() -> None:
    """Almost without noise a single best volume is so unlikely that its likelihood underflows."""
    frame, doubled = changing_squad("Ricker", np.random.default_rng(4), athletes=6)
    fit = ResponseModel(standard_volume=15).fit(frame, frame["value"]).fit_
    noise = replace(fit.learned.noise, effort=1e-4, day=1e-5, drift=0.0, curve=0.0)
    sure = replace(fit, learned=replace(fit.learned, noise=replace(noise, session_curve=0.0)))
    chances = [best_volume_change(sure, each).chance for each in sure.posteriors]
    assert np.isfinite(chances).all()
    assert min(np.array(chances)[doubled]) > 0.999


def test_a_moved_level_at_one_volume_is_not_taken_for_a_change() -> None:
    one_volume = Protocol(fade_tests=0, routine_sessions=6)
    frame, _ = changing_squad("Ricker", np.random.default_rng(2), athletes=9, later=one_volume)
    later = frame["session"].str.contains("later")
    frame.loc[later, "volume"] = 15.0 + frame[later].groupby("session").cumcount()
    frame.loc[later, "value"] *= 1.05
    for change in _changes(frame):
        assert change.chance < FOUND or not change.tellable


def test_too_few_sessions_say_nothing() -> None:
    frame, _ = changing_squad("Ricker", np.random.default_rng(3), athletes=4)
    model = ResponseModel(standard_volume=15).fit(frame, frame["value"])
    posterior = model.fit_.posteriors[0]
    assert posterior.rows is not None
    short = replace(posterior.rows, sessions=posterior.rows.sessions[:3])
    change = best_volume_change(model.fit_, replace(posterior, rows=short))
    assert change == NOTHING_TOLD
