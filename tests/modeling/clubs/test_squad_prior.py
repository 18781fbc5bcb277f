"""What many clubs say together, and how a fit uses it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_t
from statsmodels.stats.meta_analysis import combine_effects

from modeling import ModelError, ResponseModel
from modeling.answers.known_constants import known_constants
from modeling.clubs.squad_prior import MEAN_DF, pooled
from modeling.curve.rise_and_fall import RiseAndFall
from modeling.curve.shapes import DataRange, Hyperprior
from modeling.curve.smooth_curve import SmoothRiseAndFall
from modeling.efforts.session_model import NoiseSizes
from modeling.fit.noise import COMPONENTS
from modeling.fit.shared import BEFOREHAND
from modeling.testing.simulation import Noise, Protocol, simulate_squad
from modeling.testing.true_curves import truth
from tests.modeling.clubs.test_learned_summary import WHOLE

DATA = DataRange(1.0, 60.0, 12.0, 0.1, 0.03)


def clubs(count: int, between: float, error: float, seed: int = 5):
    rng = np.random.default_rng(seed)
    means = np.array(WHOLE.mean) + rng.normal(0, np.hypot(between, error), (count, 3))
    return [replace(WHOLE, mean=tuple(mean), mean_sd=(error,) * 3) for mean in means]


def test_clubs_are_pooled_like_studies_in_a_random_effects_meta_analysis() -> None:
    """Source: `combine_effects` of statsmodels (Paule & Mandel's iterated estimate)."""
    told = clubs(40, 0.35, 0.15)
    prior = pooled(told)
    for place in range(3):
        effects = np.array([each.mean[place] for each in told])
        other = combine_effects(effects, np.full(40, 0.15**2 * 13 / 12), method_re="iterated")
        assert prior.curves.mean[place] == pytest.approx(other.mean_effect_re, abs=0.01)
        between = np.sqrt(other.tau2 + other.var_eff_w_re)
        assert prior.curves.mean_sd[place] == pytest.approx(between, rel=0.1)
    assert prior.curves.mean_df == MEAN_DF


def test_constants_are_pooled_like_studies_and_joined_with_the_prior() -> None:
    """Source: `combine_effects` of statsmodels (DerSimonian & Laird's moments)."""
    rng = np.random.default_rng(8)
    thought, sd = BEFOREHAND[1]
    value, error = rng.normal(0.07, 0.015, 6), np.full(6, 0.006)
    told = [
        replace(WHOLE, constants=(None, pair, None, None))
        for pair in zip(value, error, strict=True)
    ]
    prior = pooled([*told, WHOLE])
    other = combine_effects(value, error**2, method_re="dl")
    assert other.tau2 > (0.25 * sd) ** 2, "the clubs differ by more than they do at least"
    known = 1.0 / other.var_eff_w_re + sd**-2.0
    mean = (other.mean_effect_re / other.var_eff_w_re + thought * sd**-2.0) / known
    assert prior.constants[1] == pytest.approx((mean, np.sqrt(1.0 / known + other.tau2)), rel=1e-6)
    assert [prior.constants[place] for place in (0, 2, 3)] == [
        BEFOREHAND[place] for place in (0, 2, 3)
    ]


def test_a_squad_that_has_not_learned_constants_takes_them_from_others() -> None:
    told = [
        replace(WHOLE, constants=((0.6, 0.02), (1 / 14.0, 0.001), None, None)) for _ in range(9)
    ]
    model = fitted(1.0, 4, pooled(told))
    account, alone = model.fit_.learned.shared.account, fitted(1.0, 4, None).fit_.learned.shared
    assert account.half_life_minutes == pytest.approx(14.0, rel=0.1)
    assert alone.account.half_life_minutes == pytest.approx(21.0)
    known = {each.constant.name: each for each in known_constants(model.fit_.learned.shared)}
    rest, hour = known["half_life_minutes"], known["stretch_per_hour"]
    assert rest.status == "default" and rest.low < rest.value < rest.high < 21.0
    assert (hour.value, hour.low, hour.high) == (0.02, -0.01, 0.05)
    read = ResponseModel.from_learned(model.learned_json()).fit_.learned.shared
    assert read.account == account


def test_too_few_clubs_say_nothing_about_how_clubs_differ() -> None:
    with pytest.raises(ModelError, match="2 clubs cannot say how clubs differ"):
        pooled(clubs(2, 0.3, 0.1))


def test_other_clubs_count_less_the_farther_away_a_squad_is() -> None:
    """Source: the gradient of scipy's multivariate t distribution."""
    before = Hyperprior(np.zeros(3), np.array([0.3, 0.2, 0.4]), np.eye(3), 8.0, mean_df=4.0)
    t = multivariate_t(np.zeros(3), np.diag(before.mean_sd**2), df=4.0)
    far, step = np.array([1.2, 0.5, -0.9]), 1e-5
    slope = [
        (t.logpdf(far + step * one) - t.logpdf(far - step * one)) / (2 * step) for one in np.eye(3)
    ]
    assert -before.mean_precision(far) * far == pytest.approx(slope, rel=1e-4)
    assert before.mean_precision(np.zeros(3)) == pytest.approx(before.mean_sd**-2.0)
    assert replace(before, mean_df=np.inf).mean_precision(far) == pytest.approx(
        before.mean_sd**-2.0
    )


def test_the_prior_of_the_noise_is_an_inverse_chi_squared_distribution() -> None:
    prior = pooled(clubs(5, 0.3, 0.1))
    noise = NoiseSizes(effort=0.04, day=0.01, drift=0.02, session_curve=0.006)

    def log_density(variance: np.ndarray) -> np.ndarray:
        return -0.5 * prior.weights * (np.log(variance) + prior.variances / variance)

    now = np.array([getattr(noise, name) for name in COMPONENTS]) ** 2
    step = 1e-5 * now
    slope = (log_density(now + step) - log_density(now - step)) / (2 * step)
    told = prior.size_scores(noise)
    assert told.score == pytest.approx(slope, rel=1e-4)
    # At the expected variances the information has a closed form.
    at_expected = replace(
        noise, **dict(zip(COMPONENTS, np.sqrt(prior.variances).tolist(), strict=True))
    )
    expected = 0.5 * prior.weights / prior.variances**2
    assert np.diag(prior.size_scores(at_expected).information) == pytest.approx(expected)


def test_another_family_takes_only_the_coordinates_it_shares() -> None:
    prior = pooled(clubs(5, 0.3, 0.1))
    own, smooth = RiseAndFall(), SmoothRiseAndFall()
    assert prior.hyperprior(own, DATA).covariance == pytest.approx(prior.curves.covariance)
    found, usual = prior.hyperprior(smooth, DATA), smooth.hyperprior(DATA)
    best, bend, gain = range(3)
    assert found.mean[[best, gain]] == pytest.approx(prior.curves.mean[[0, 1]])
    assert found.mean[bend] == usual.mean[bend]
    assert found.covariance[bend, bend] == usual.covariance[bend, bend]
    assert found.covariance[best, bend] == found.covariance[gain, bend] == 0.0


def fitted(times: float, athletes: int, prior) -> ResponseModel:
    rng = np.random.default_rng(2)
    truths = [truth("Ricker", times * 14.0, 0.07, times * 20.0)] * athletes
    frame = simulate_squad(truths, Protocol(1, 0), Noise(0.02, 0.01), rng)
    model = ResponseModel(standard_volume=15, family=RiseAndFall(), prior=prior)
    return model.fit(frame, frame["value"])


def test_a_small_squad_leans_on_others_and_an_odd_one_does_not() -> None:
    near = replace(WHOLE, mean=(np.log(14.0), np.log(0.07), np.log(20.0)))
    rng = np.random.default_rng(1)
    told = [
        replace(near, mean=tuple(np.array(near.mean) + rng.normal(0, 0.2, 3))) for _ in range(12)
    ]
    prior = pooled(told)

    def middle(times: float, athletes: int, with_others: bool) -> float:
        model = fitted(times, athletes, prior if with_others else None)
        return float(model.fit_.learned.across.mean[0])

    alone, leaning = middle(1.5, 4, False), middle(1.5, 4, True)
    expected = prior.curves.mean[0]
    assert abs(leaning - expected) < abs(alone - expected), "four athletes lean on others"
    odd_alone, odd = middle(5.0, 8, False), middle(5.0, 8, True)
    assert abs(odd - odd_alone) < 0.15 * abs(odd_alone - expected), "eight odd ones do not"


@pytest.mark.parametrize(
    "damage",
    [
        {"variances": np.array([0.1, 0.1, 0.1])},
        {"weights": np.array([1.0, 1.0, 1.0, -1.0])},
        {"variances": np.array([0.1, np.inf, 0.1, 0.1])},
    ],
)
def test_an_impossible_distribution_is_refused(damage: dict) -> None:
    with pytest.raises(ValueError):
        replace(pooled(clubs(5, 0.3, 0.1)), **damage)
