"""What a next session is worth: against the closed form of two hypotheses, and in order."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from scipy.stats import norm

from modeling import ResponseModel
from modeling import next_test as module
from modeling.next_test import DRAWS, next_test, next_tests, session_worths
from modeling.simulation import Noise, Protocol, simulate_squad, simulated_truths

GAP, EFFORT_SD = 0.05, 0.03


def two_hypotheses(*_: Any) -> Any:
    """Half of the draws peak at no volume at all, half at 10, and lose as much elsewhere."""
    knots = np.array([0.0, 10.0, 20.0])
    early, late = np.array([0.0, -GAP, -GAP]), np.array([-GAP, 0.0, -GAP])
    curves = np.stack([early if draw % 2 else late for draw in range(DRAWS)], axis=1)
    return module._Hypotheses(
        curves=curves,
        knots=knots,
        best=np.where(np.arange(DRAWS) % 2, 0.0, 10.0),
        level=np.zeros(DRAWS),
        effort_sd=EFFORT_SD,
        session_sd=1e-6,
    )


def test_telling_two_curves_apart_is_worth_what_fewer_wrong_choices_save(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The likelier of two normals GAP apart is wrong with chance Phi(-d / 2)."""
    monkeypatch.setattr(module, "_hypotheses", two_hypotheses)
    monkeypatch.setattr(module, "TRUTHS", DRAWS)
    monkeypatch.setattr(module, "ROUTINE_EFFORTS", 1)
    model = SimpleNamespace(response=lambda athlete: SimpleNamespace(advised_volume=10.0))
    worths = session_worths(cast(ResponseModel, model), "A1", fade=False)
    lost = -100.0 * np.expm1(-GAP)
    wrong = norm.cdf(-GAP / EFFORT_SD / 2.0)
    for volume in (0.0, 10.0):
        assert worths["routine", volume] == pytest.approx(lost * (0.5 - wrong), rel=0.2)
    # After 20 and more both curves are alike: nothing is to be learned there.
    assert worths["routine", 20.0] == pytest.approx(0.0, abs=1e-9)


@pytest.fixture(scope="module")
def model() -> ResponseModel:
    rng = np.random.default_rng(4)
    frame = simulate_squad(simulated_truths("Ricker", 8, rng), Protocol(1, 4), Noise(), rng)
    return ResponseModel(standard_volume=15).fit(frame, frame["value"])


def test_the_untested_athlete_comes_first_with_a_fade_test(model: ResponseModel) -> None:
    found = next_tests(model, [*model.responses_, "untested"])
    assert found[0].athlete == "untested" and found[0].kind == "fade"
    assert [each.worth_pct for each in found] == sorted(
        (each.worth_pct for each in found), reverse=True
    )


def test_no_session_is_worth_less_than_nothing(model: ResponseModel) -> None:
    for athlete in model.responses_:
        assert min(session_worths(model, athlete).values()) > -0.05


def test_a_firm_call_needs_no_more_sessions(model: ResponseModel) -> None:
    for athlete, response in model.responses_.items():
        needed = next_test(model, athlete).sessions_to_firm_call
        assert (needed == 0) == (response.call != "not known")
