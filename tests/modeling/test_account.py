"""The warm-up account against closed forms, and its constants learned from simulated squads."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import approx_fprime
from scipy.stats import multivariate_normal, norm

from modeling import ModelError, ResponseModel
from modeling.account import CONSTANTS, Account, Circumstances, Work
from modeling.curve import RiseAndFall
from modeling.engine import fit_squad
from modeling.observations import arrange
from modeling.shared import MARK_SD
from modeling.simulation import Noise, Protocol, Surroundings, simulate_squad, simulated_truths
from modeling.squad_fit import EngineSettings
from tests.benchmarks.account import drawn_circumstances

TRUE = Account(0.6, 15.0, 0.02, 0.0)


def test_the_account_at_the_reference_is_the_plain_volume() -> None:
    volume = np.array([0.0, 3.0, 40.0])
    assert Account().volume_in_effect(volume, Circumstances()) == pytest.approx(volume)


def test_rest_of_one_half_life_halves_what_was_done() -> None:
    around = Circumstances(general_minutes=10.0, rest_minutes=15.0)
    assert TRUE.volume_in_effect(np.array([8.0]), around) == pytest.approx([(8 + 6) / 2])


def test_efforts_after_the_rest_count_whole() -> None:
    work = Work.of(np.array([8.0, 8.0]), np.array([0.0, 1.0]), Circumstances(rest_minutes=15.0))
    assert TRUE.in_effect(work) == pytest.approx([4.0, 5.0])


def test_cold_makes_less_of_what_was_done_and_a_late_hour_nothing() -> None:
    cold, late = Circumstances(ambient_c=10.0), Circumstances(hour=21.0)
    account = Account(0.3, 20.0, 0.02, 0.03)
    assert account.volume_in_effect(np.array([10.0]), cold) == pytest.approx([10 * np.exp(-0.2)])
    assert account.volume_in_effect(np.array([10.0]), late) == pytest.approx([10.0])


def test_the_volume_to_do_undoes_the_account() -> None:
    around = Circumstances(12.0, 9.0, 5.0, 10.0)
    done = np.array([4.0, 30.0])
    assert TRUE.volume_to_do(TRUE.volume_in_effect(done, around), around) == pytest.approx(done)


def test_slopes_are_those_of_finite_differences() -> None:
    around = Circumstances(12.0, 9.0, 5.0, 10.0)
    work = Work.of(np.array([7.0]), np.array([2.0]), around)
    names = [c.name for c in CONSTANTS]
    account = Account(0.4, 18.0, 0.01, 0.02)

    def in_effect(inner: np.ndarray) -> float:
        outer = {c.name: c.outer(float(x)) for c, x in zip(CONSTANTS, inner, strict=True)}
        return float(Account(**outer).in_effect(work)[0])

    inner = np.array(
        [c.inner(getattr(account, name)) for c, name in zip(CONSTANTS, names, strict=True)]
    )
    assert account.slopes(work)[0] == pytest.approx(approx_fprime(inner, in_effect, 1e-8), rel=1e-4)


def test_constants_have_a_range_around_their_default() -> None:
    for constant in CONSTANTS:
        assert constant.low < constant.default < constant.high
        assert constant.outer(constant.inner(constant.default)) == pytest.approx(constant.default)
        # 90 % of a normal lies within 1.645 of its standard deviations.
        within = norm.cdf(1.645) - norm.cdf(-1.645)
        assert within == pytest.approx(0.9, abs=1e-3) and constant.sd > 0


@pytest.fixture(scope="module")
def told() -> ResponseModel:
    return ResponseModel(standard_volume=15).fit(*_squad(TRUE, 3))


def _squad(account: Account, seed: int) -> tuple[pd.DataFrame, pd.Series]:
    rng = np.random.default_rng(seed)
    truths = simulated_truths("saturating less linear", 20, rng)
    frame = simulate_squad(
        truths, Protocol(), Noise(), rng, Surroundings(account, drawn_circumstances)
    )
    return frame, frame["value"]


def test_constants_are_learned_from_the_squad(told: ResponseModel) -> None:
    shared = told.fit_.learned.shared
    sd = np.sqrt(np.diag(shared.covariance))[len(shared.marks) :]
    true = [c.inner(getattr(TRUE, c.name)) for c in CONSTANTS]
    assert np.all(np.abs(shared.value[len(shared.marks) :] - true) < 3 * sd)
    prior = np.array([c.sd for c in CONSTANTS])
    assert np.all(sd < 0.5 * prior)  # the data moved them


def test_a_constant_without_effect_is_none(told: ResponseModel) -> None:
    assert told.account_.stretch_per_hour == 0.0


def test_sessions_that_tell_no_circumstances_are_fitted_as_before() -> None:
    frame, value = _squad(Account(0.0, np.inf, 0.0, 0.0), 5)
    plain = frame[["athlete", "session", "day", "volume"]]
    model = ResponseModel(standard_volume=15).fit(plain, value)
    assert len(model.fit_.learned.shared.value) == 0
    for posterior in model.fit_.posteriors:
        assert posterior.rows is not None
        own = plain[plain["athlete"] == posterior.rows.athlete]
        assert sorted(posterior.rows.volume) == sorted(own["volume"])


def test_the_standard_counts_as_in_the_usual_circumstances(told: ResponseModel) -> None:
    expected = told.account_.volume_in_effect(np.array([15.0]), told.usual_)[0]
    assert told.standard_volume_ == pytest.approx(expected)
    assert told.usual_.general_minutes > 0


def test_facts_out_of_range_are_refused() -> None:
    frame, value = _squad(TRUE, 3)
    frame.loc[4, "rest_minutes"] = -1.0
    with pytest.raises(ModelError, match="1 of .* rest_minutes that is not between 0 and 1440"):
        ResponseModel().fit(frame, value)


def test_effects_on_the_level_are_those_of_generalised_least_squares() -> None:
    """Without any curve the model is linear; its effects then have a closed form."""
    rng = np.random.default_rng(8)
    frame = pd.DataFrame(
        [
            (f"A{a}", f"A{a}-{s}", float(s), 5.0 + i, "game" if s % 3 == 0 else "training")
            for a in range(12)
            for s in range(9)
            for i in range(3)
        ],
        columns=["athlete", "session", "day", "volume", "context"],
    )
    level = dict(zip(frame["athlete"].unique(), 0.1 * rng.standard_normal(12), strict=True))
    day = {s: 0.02 * rng.standard_normal() for s in frame["session"].unique()}
    game = (frame["context"] == "game").to_numpy(float)
    log = frame["athlete"].map(level) + frame["session"].map(day) + 0.05 * game
    log += 0.03 * rng.standard_normal(len(frame))
    settings = EngineSettings(family=RiseAndFall(), drift=False, heavy_tails=False)
    fit = fit_squad(arrange(frame, np.exp(log + 3.0)), settings)
    learned = fit.learned
    information, score = 1.0 / MARK_SD**2, 0.0
    for _, own in frame.assign(log=log + 3.0, game=game).groupby("athlete"):
        same = own["session"].to_numpy()[:, None] == own["session"].to_numpy()
        covariance = learned.level_sd**2 + learned.noise.day**2 * same
        covariance = covariance + learned.noise.effort**2 * np.eye(len(own))
        mark, value = own["game"].to_numpy(), own["log"].to_numpy() - learned.level_mean
        precise = np.linalg.solve(covariance, mark)
        information += precise @ mark
        score += precise @ value
        assert np.isfinite(multivariate_normal.logpdf(value, cov=covariance))
    assert learned.shared.marks == ("game",)
    assert learned.shared.value[0] == pytest.approx(score / information, abs=0.002)
    spread = np.sqrt(learned.shared.covariance[0, 0])
    assert spread == pytest.approx(information**-0.5, rel=0.25)
