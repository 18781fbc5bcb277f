"""Data as they come: each case gets a clear error or a clear answer, never a nonsense number."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from modeling import ResponseModel
from modeling.answers.response import Response
from modeling.errors import ModelError
from modeling.estimate import Estimate
from modeling.fit import partition
from modeling.fit.athlete_grid import AthleteGrid
from modeling.fit.expectation import AthleteMoments
from modeling.testing.simulation import Noise, Protocol, simulate_squad, simulated_truths, truth


def fitted(squad: pd.DataFrame, **parameters: object) -> ResponseModel:
    return ResponseModel(standard_volume=15.0, **parameters).fit(squad, squad["value"])


def assert_sensible(response: Response) -> None:
    """Check that all numbers are finite, in order and in the range that their names allow."""
    for part in fields(response):
        value = getattr(response, part.name)
        if isinstance(value, Estimate):
            assert np.isfinite([value.low, value.median, value.high]).all(), part.name
            assert 0 <= value.low <= value.median <= value.high, part.name
    chances = [response.chance_short, response.chance_long, response.chance_either]
    assert sum(chances) == pytest.approx(1.0)
    assert min(chances) >= 0
    assert response.advised_volume >= 0
    assert response.call in {"short", "long", "either", "not known"}
    assert np.isfinite(response.curve.change_pct).all()
    assert (response.curve.change_pct <= 1e-9).all()


@pytest.fixture(scope="module")
def squad() -> pd.DataFrame:
    rng = np.random.default_rng(41)
    return simulate_squad(simulated_truths("Ricker", 8, rng), Protocol(1, 5), Noise(), rng)


@pytest.fixture(scope="module")
def model(squad: pd.DataFrame) -> ResponseModel:
    return fitted(squad)


def test_one_effort_per_session() -> None:
    rng = np.random.default_rng(42)
    truths = simulated_truths("Ricker", 6, rng)
    squad = simulate_squad(truths, Protocol(0, 25, routine_efforts=1, own_habit=True), Noise(), rng)
    assert squad.groupby("session").size().max() == 1
    for response in fitted(squad).responses_.values():
        assert_sensible(response)


def test_volumes_from_zero_to_five_hundred() -> None:
    rng = np.random.default_rng(43)
    truths = [truth("power, saturating fall", 300.0, 0.5, 400.0) for _ in range(6)]
    rows = [
        {"athlete": f"A{a}", "session": f"{a}-{s}", "volume": v, "value": value}
        for a, athlete in enumerate(truths)
        for s in range(3)
        for v in np.linspace(0.0, 500.0, 26)
        for value in athlete.level
        * np.exp(athlete.change(np.array([v])) + 0.03 * rng.standard_normal(1))
    ]
    model = fitted(pd.DataFrame(rows))
    for response in model.responses_.values():
        assert_sensible(response)
        assert response.best_volume.low < 300.0 < response.best_volume.high
        # A gain of 50 % on the log scale is 65 % of the cold value.
        assert response.gain_pct.median == pytest.approx(100 * np.expm1(0.5), rel=0.15)
        assert response.reach == "inside"


def test_two_sessions_of_two_athletes() -> None:
    rng = np.random.default_rng(44)
    squad = simulate_squad(simulated_truths("Ricker", 2, rng), Protocol(1, 1), Noise(), rng)
    for response in fitted(squad).responses_.values():
        assert_sensible(response)
        assert response.sessions == 2


def test_sessions_at_the_same_time_give_sensible_answers(squad: pd.DataFrame) -> None:
    for response in fitted(squad.assign(day=3.0)).responses_.values():
        assert_sensible(response)


@pytest.mark.parametrize(("direction", "reach"), [(1.0, "beyond"), (-1.0, "below")])
def test_athletes_who_only_rise_or_only_fall_in_the_range_tried(
    direction: float, reach: str
) -> None:
    rng = np.random.default_rng(45)
    rows = [
        {
            "athlete": f"A{a}",
            "session": f"{a}-{s}",
            "volume": v,
            "value": 40.0 * np.exp(direction * 0.01 * v + 0.01 * rng.standard_normal()),
        }
        for a in range(6)
        for s in range(4)
        for v in range(1, 21)
    ]
    for response in fitted(pd.DataFrame(rows)).responses_.values():
        assert_sensible(response)
        assert response.reach == reach
        assert response.advised_volume >= 19 if direction > 0 else response.advised_volume <= 2


def test_a_session_a_fifth_down_by_illness_hardly_moves_its_athlete(
    squad: pd.DataFrame, model: ResponseModel
) -> None:
    ill = squad.copy()
    session = squad.loc[squad["athlete"] == "A03", "session"].iloc[-1]
    ill.loc[ill["session"] == session, "value"] *= 0.8
    after, before = fitted(ill).response("A03"), model.response("A03")
    assert_sensible(after)
    assert after.best_volume.median == pytest.approx(before.best_volume.median, rel=0.25)
    assert after.session_peaks[session] == pytest.approx(
        0.8 * before.session_peaks[session], rel=0.05
    )


def test_a_mistyped_volume_hardly_moves_the_other_athletes(
    squad: pd.DataFrame, model: ResponseModel
) -> None:
    typed = squad.copy()
    typed.loc[typed.index[typed["athlete"] == "A03"][10], "volume"] = 10_000.0
    after = fitted(typed)
    for code in ("A01", "A02", "A04", "A05", "A06", "A07", "A08"):
        moved, before = after.response(code), model.response(code)
        assert moved.best_volume.median == pytest.approx(before.best_volume.median, rel=0.25)
        assert moved.advised_volume == pytest.approx(before.advised_volume, rel=0.2, abs=1.5)


def test_two_codes_swapped_for_a_session_do_not_move_a_third(
    squad: pd.DataFrame, model: ResponseModel
) -> None:
    swapped = squad.copy()
    last = {
        code: squad.loc[squad["athlete"] == code, "session"].iloc[-1] for code in ("A01", "A02")
    }
    for code, other in (("A01", "A02"), ("A02", "A01")):
        swapped.loc[squad["session"] == last[code], "athlete"] = other
    after = fitted(swapped)
    for code in ("A03", "A04", "A05", "A06", "A07", "A08"):
        moved, before = after.response(code), model.response(code)
        assert moved.best_volume.median == pytest.approx(before.best_volume.median, rel=0.10)
        assert moved.advised_volume == pytest.approx(before.advised_volume, rel=0.15, abs=1.0)


def test_heavy_tails_are_learned_and_hardly_cost_anything() -> None:
    rng = np.random.default_rng(46)
    truths = simulated_truths("Ricker", 12, rng)
    clean = simulate_squad(truths, Protocol(2, 8), Noise(), np.random.default_rng(47))
    spoiled = simulate_squad(truths, Protocol(2, 8), Noise(0.03, 0.02, 0.05), rng)
    heavy = fitted(spoiled)
    assert heavy.fit_.learned.noise.effort_df <= 6.0
    losses = [
        np.mean([t.loss_pct(r.advised_volume) for t, r in zip(truths, found, strict=True)])
        for found in (list(fitted(clean).responses_.values()), list(heavy.responses_.values()))
    ]
    assert losses[1] < losses[0] + 0.3


def test_infinite_volumes_are_refused(squad: pd.DataFrame) -> None:
    with pytest.raises(
        ModelError, match=r"1 of \d+ rows have a volume that is not a finite number"
    ):
        fitted(squad.assign(volume=squad["volume"].where(squad.index != 3, np.inf)))


@pytest.mark.parametrize("breaks", ["raises", "is no number"])
def test_an_athlete_who_cannot_be_fitted_is_named_and_the_others_are_fitted(
    squad: pd.DataFrame, monkeypatch: pytest.MonkeyPatch, breaks: str
) -> None:
    def expect_but_for_one(own: AthleteGrid, *more: Any) -> AthleteMoments:
        moments = expect(own, *more)
        if own.rows.athlete != "A03":
            return moments
        if breaks == "raises":
            raise np.linalg.LinAlgError
        return replace(moments, form_evidence=np.nan * moments.form_evidence)

    expect = partition.expect
    monkeypatch.setattr(partition, "expect", expect_but_for_one)
    model = fitted(squad)
    others = fitted(squad[squad["athlete"] != "A03"])
    assert set(model.left_out_) == {"A03"} and "A03 is left out" in model.left_out_["A03"]
    assert {a: r.best_volume for a, r in model.responses_.items()} == {
        a: r.best_volume for a, r in others.responses_.items()
    }
    assert_sensible(model.response("A03"))
    with pytest.raises(ModelError, match="A03 is left out"):
        fitted(squad[squad["athlete"] == "A03"])
