"""What next sessions are worth, against closed forms and scipy's normal, and their order."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from modeling import ResponseModel
from modeling.curve.account import Account, Circumstances
from modeling.curve.curve_draws import CurveDraws
from modeling.curve.length import Needs
from modeling.day.next_test import campaign_worths, next_test, next_tests
from modeling.testing import simulated_tests as module
from modeling.testing.fade import fade_is_over
from modeling.testing.simulated_tests import HowFar
from modeling.testing.simulation import Noise, Protocol, simulate_squad, simulated_truths

DRAWS = 1600
GAP, EFFORT_SD = 0.05, 0.03
LOST_PCT = -100.0 * np.expm1(-GAP)


def two_hypotheses() -> module.Known:
    """Half of the draws peak at a volume of 0 and half at 10; elsewhere all lose the same."""
    early, late = np.array([0.0, -GAP, -GAP]), np.array([-GAP, 0.0, -GAP])
    change = np.stack([early if draw % 2 else late for draw in range(DRAWS)], axis=1)
    curve = CurveDraws(
        athlete="A1",
        sessions=1,
        efforts=1,
        volume=np.array([0.0, 10.0, 20.0]),
        change=change,
        account=Account(),
        usual=Circumstances(),
        needs=Needs(10.0, "not known", 10.0, None),
        worthwhile_pct=1.0,
    )
    return module.Known(
        curve=curve,
        level=np.zeros(DRAWS),
        level_variance=0.0,
        effort_sd=EFFORT_SD,
        session_variance=0.02**2,
        offered=100.0 * np.expm1(change.T),
    )


@pytest.fixture
def one_effort(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "ROUTINE_EFFORTS", 1)
    monkeypatch.setattr(module, "TRUTHS", DRAWS)


@pytest.mark.parametrize("sessions", [1, 4])
@pytest.mark.parametrize("volume", [0.0, 10.0])
def test_telling_two_curves_apart_is_worth_what_fewer_wrong_choices_save(
    one_effort: None, volume: float, sessions: int
) -> None:
    """The likelier of two normals GAP apart is wrong with chance Phi(-d / 2)."""
    known = two_hypotheses()
    worth = known.worth(module.routine_logs(known, [volume], sessions))
    sd = np.sqrt((EFFORT_SD**2 + known.session_variance) / sessions)
    assert worth == pytest.approx(LOST_PCT * (0.5 - norm.cdf(-GAP / sd / 2.0)), rel=0.15)


def test_nothing_is_learned_where_both_curves_are_alike(one_effort: None) -> None:
    known = two_hypotheses()
    assert known.worth(module.routine_logs(known, [20.0], 6)) == pytest.approx(0.0, abs=1e-9)


def test_where_the_level_is_unknown_only_contrasts_tell(one_effort: None) -> None:
    """Only the difference of two volumes tells then, and its noise is sqrt(2) times as large."""
    known = replace(two_hypotheses(), level_variance=100.0)
    alone = known.worth(module.routine_logs(known, [0.0], 6))
    both = known.worth(module.routine_logs(known, [0.0, 20.0], 3))
    sd = np.sqrt(2.0 * (EFFORT_SD**2 + known.session_variance) / 3.0)
    assert alone == pytest.approx(0.0, abs=0.05)
    assert both == pytest.approx(LOST_PCT * (0.5 - norm.cdf(-GAP / sd / 2.0)), rel=0.15)


def test_the_first_efforts_of_a_session_have_the_density_of_a_normal() -> None:
    known = two_hypotheses()
    expected = known.expected(np.arange(6.0))
    value = np.random.default_rng(3).normal(0.0, 0.05, (6, 2))
    found = module._first_efforts_logs(known, expected, value, np.array([4, 6]))
    for truth, efforts in enumerate((4, 6)):
        covariance = np.full((efforts, efforts), known.session_variance)
        covariance += EFFORT_SD**2 * np.eye(efforts)
        dense = [
            multivariate_normal(expected[:efforts, draw], covariance).logpdf(value[:efforts, truth])
            for draw in (0, 1)
        ]
        assert found[truth, 1] - found[truth, 0] == pytest.approx(dense[1] - dense[0])


def test_simulated_fade_tests_end_where_the_stop_rule_says() -> None:
    rng = np.random.default_rng(5)
    log_value = 0.06 * rng.standard_normal((30, 40)) - 0.004 * np.arange(30)[:, None]
    made = module._efforts_made(log_value)
    for values, efforts in zip(np.exp(log_value.T).tolist(), made, strict=True):
        ends = [done for done in range(1, 31) if fade_is_over(values[:done])]
        assert efforts == (ends[0] if ends else 30)
    assert made.min() < 15 and made.max() == 30


@pytest.fixture(scope="module")
def model() -> ResponseModel:
    rng = np.random.default_rng(4)
    frame = simulate_squad(simulated_truths("Ricker", 8, rng), Protocol(1, 4), Noise(), rng)
    return ResponseModel(standard_volume=15).fit(frame, frame["value"])


def test_everybody_has_a_fade_test_and_a_routine_session_and_the_untested_comes_first(
    model: ResponseModel,
) -> None:
    athletes = [*model.responses_, "untested"]
    found = next_tests(model, athletes)
    assert {(each.athlete, each.kind) for each in found} == {
        (athlete, kind) for athlete in athletes for kind in ("fade", "routine")
    }
    assert found[0].athlete == "untested" and found[0].kind == "fade"
    worths = [each.worth_pct for each in found]
    assert worths == sorted(worths, reverse=True) and worths[-1] >= 0.0
    for each in found:
        takes = (each.takes.low, each.takes.median, each.takes.high)
        assert list(takes) == sorted(takes) and takes[0] >= 3
        assert each.kind == "fade" or takes == (3, 3, 3)


def test_the_routine_session_is_at_a_volume_of_the_best_campaign(model: ResponseModel) -> None:
    for each in next_tests(model, ["A01", "A02"]):
        if each.kind == "routine":
            worths = campaign_worths(model, each.athlete)
            best = max(worths, key=lambda pair: worths[pair])
            assert each.volume in best and each.worth_pct == pytest.approx(worths[best], rel=1e-9)


def test_a_firm_call_needs_no_more_sessions(model: ResponseModel) -> None:
    for each in next_tests(model, model.responses_):
        firm = model.responses_[str(each.athlete)].call != "not known"
        assert (each.sessions_to_firm_call == 0) == firm


def test_no_test_beyond_the_limits_is_proposed(model: ResponseModel) -> None:
    """Routine tests of late athletes stop at the limit, and a short fade test tells less."""
    most = {code: HowFar(in_fade=8, before_routine=5.0) for code in model.responses_}
    free, kept = next_tests(model, most), next_tests(model, most, mosts=most)
    assert max(each.volume for each in free) > 5.0
    assert max(each.volume for each in kept) <= 5.0
    worth = [sum(t.worth_pct for t in tests if t.kind == "fade") for tests in (free, kept)]
    assert worth[1] < worth[0]
    one = next_test(model, "A01", most=most["A01"])
    assert one == next(each for each in kept if each.athlete == "A01")
    assert one.volume == float(model.usual_volumes.in_effect(one.volume_to_do))


def test_no_test_is_valued_as_if_started_cold() -> None:
    """Everything before a test, also before a fade test, comes after the usual general part."""
    cold = two_hypotheses()
    known = replace(cold, curve=replace(cold.curve, usual=Circumstances(10)))
    general = known.curve.account.general_per_minute * 10
    assert known.in_effect([0.0, 4.0]) == pytest.approx([general, 4.0 + general])
    logs = [module.whole_fade(each, np.random.default_rng(1))[0] for each in (known, cold)]
    assert not np.allclose(*logs)
