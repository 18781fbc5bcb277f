"""The warm-up account against closed forms, and its constants learned from simulated squads."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import approx_fprime
from scipy.stats import multivariate_normal, norm

from modeling import ModelError, ResponseModel
from modeling.answers.known_constants import known_constants
from modeling.compute.sums import together
from modeling.curve.account import CONSTANTS, Account, Circumstances, Work
from modeling.curve.rise_and_fall import RiseAndFall
from modeling.efforts.observations import arrange
from modeling.fit.engine import fit_squad, fold_athlete
from modeling.fit.pooling import NormalAcross
from modeling.fit.shared import MARK_SD, SharedEffects
from modeling.fit.shared_step import SharedMoments, SharedSums, learn_shared
from modeling.fit.squad_fit import EngineSettings
from modeling.testing.simulation import (
    Noise,
    Protocol,
    Surroundings,
    simulate_squad,
    simulated_truths,
)
from tests.benchmarks.account import drawn_circumstances

TRUE = Account(0.6, 15.0, 0.02, 0.0)
FAR = Account(1.25, 20.0, 0.015, 0.03)


def test_the_account_at_the_reference_is_the_plain_volume() -> None:
    volume = np.array([0.0, 3.0, 40.0])
    assert Account().volume_in_effect(volume, Circumstances()) == pytest.approx(volume)


def test_rest_of_one_half_life_halves_what_was_done() -> None:
    around = Circumstances(general_minutes=10.0, rest_minutes=15.0)
    assert TRUE.volume_in_effect(np.array([8.0]), around) == pytest.approx([(8 + 6) / 2])


def test_efforts_after_the_rest_count_whole() -> None:
    work = Work.of(np.array([8.0, 8.0]), np.array([0.0, 1.0]), Circumstances(rest_minutes=15.0))
    assert TRUE.in_effect(work) == pytest.approx([4.0, 5.0])


def test_cold_makes_work_count_less_and_a_late_hour_changes_nothing() -> None:
    cold, late = Circumstances(ambient_c=10.0), Circumstances(hour=21.0)
    account = Account(0.3, 20.0, 0.02, 0.03)
    assert account.volume_in_effect(np.array([10.0]), cold) == pytest.approx([10 * np.exp(-0.2)])
    assert account.volume_in_effect(np.array([10.0]), late) == pytest.approx([10.0])


def test_the_volume_to_do_undoes_the_account() -> None:
    around = Circumstances(12.0, 9.0, 5.0, 10.0)
    done = np.array([4.0, 30.0])
    assert TRUE.volume_to_do(TRUE.volume_in_effect(done, around), around) == pytest.approx(done)


def test_slopes_match_finite_differences() -> None:
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
        # 90 % of a normal distribution lies within 1.645 standard deviations.
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


def test_constants_far_from_their_defaults_are_found() -> None:
    """The general part counts for four times the default, so that every peak moves."""
    settings = EngineSettings(family=RiseAndFall())
    fit = fit_squad(arrange(*_squad(FAR, 4)), settings)
    shared = fit.learned.shared
    sd = np.sqrt(np.diag(shared.covariance))[len(shared.marks) :]
    true = [c.inner(getattr(FAR, c.name)) for c in CONSTANTS]
    assert np.all(np.abs(shared.found[len(shared.marks) :] - true) < 2.5 * sd)
    lowest, highest = RiseAndFall().widest(fit.data)
    for posterior in fit.posteriors:
        nodes, mass = posterior.mass(0)
        held = [mass[0] if nodes[0] > lowest[0] + 1e-9 else 0.0]
        held.append(mass[-1] if nodes[-1] < highest[0] - 1e-9 else 0.0)
        assert max(held) < 0.01  # nobody's peak is stuck at the end of their grid


def _told_once(scores: np.ndarray, information: np.ndarray) -> SharedEffects:
    """Learn two effects on the level from athletes' scores in one step, without pooling."""
    start = SharedEffects(
        ("cold", "game"), (False,) * len(CONSTANTS), (), (), np.zeros(2), np.zeros(2), np.eye(2)
    )
    none = np.zeros((2, 1))
    moments = [
        SharedMoments(
            score, information / len(scores), np.zeros((2, 2)), none, np.zeros((1, 1)), np.zeros(1)
        )
        for score in scores
    ]
    across = NormalAcross(np.zeros(1), np.eye(1), np.zeros((1, 1)))
    return learn_shared(start, _summed(moments), across, np.eye(1), pooled=False, settled=False)[0]


def _summed(moments: list[SharedMoments]) -> SharedSums:
    return together([SharedSums.of(moments)])


def _scores(scatter: np.ndarray, athletes: int = 20) -> np.ndarray:
    """Draw scores whose sum of squares, corrected for the two effects, is exactly `scatter`."""
    drawn = np.random.default_rng(1).standard_normal((athletes, 2))
    drawn -= drawn.mean(axis=0)
    white = drawn @ np.linalg.inv(np.linalg.cholesky(drawn.T @ drawn)).T
    return white @ np.linalg.cholesky(scatter).T * np.sqrt((athletes - 2) / athletes)


def test_athletes_who_agree_leave_the_information_as_it_is() -> None:
    information = np.array([[9000.0, 2000.0], [2000.0, 5000.0]])
    expected = np.linalg.inv(information + np.eye(2) / MARK_SD**2)
    for scatter in (information, 0.3 * information):
        covariance = _told_once(_scores(scatter), information).covariance
        assert covariance == pytest.approx(expected)


def test_athletes_who_disagree_give_the_sandwich_covariance() -> None:
    """Where all scores scatter more than expected, the data's own covariance is White's."""
    information = np.array([[9000.0, 2000.0], [2000.0, 5000.0]])
    scatter = information @ np.diag([3.0, 2.0])
    scatter = (scatter + scatter.T) / 2.0
    covariance = _told_once(_scores(scatter), information).covariance
    inverse = np.linalg.inv(information)
    sandwich = inverse @ scatter @ inverse
    alone = np.linalg.inv(np.linalg.inv(covariance) - np.eye(2) / MARK_SD**2)
    assert alone == pytest.approx(sandwich)


def test_wild_scores_leave_the_prior() -> None:
    information = np.array([[9000.0, 2000.0], [2000.0, 5000.0]])
    covariance = _told_once(_scores(1e6 * information), information).covariance
    assert np.diag(covariance) == pytest.approx(MARK_SD**2, rel=1e-3)
    assert np.all(np.diag(covariance) < MARK_SD**2)


def test_the_squads_mean_moves_no_further_than_half_a_spread_when_a_constant_is_set_to_none() -> (
    None
):
    start = _of_general_part()
    default = start.value
    # Efforts that say little about peaks, hardly tell constant and peaks apart, and speak for 0.
    flat = np.ones((1, 1))
    moments = SharedMoments(-2e4 * default, 1e6 * flat, 0 * flat, 1e3 * flat, flat, np.zeros(1))
    across = NormalAcross(np.zeros(1), flat, 0 * flat)
    told = _summed([moments] * 2)
    shared, moved = learn_shared(start, told, across, flat, pooled=True, settled=True)
    assert shared.value == 0.0 < default
    assert abs(moved.mean[0]) == pytest.approx(0.5)


def _of_general_part() -> SharedEffects:
    """Return effects before anything is learned of the general part, which varies by session."""
    used, nothing = (True, False, False, False), np.zeros(1)
    start = SharedEffects((), used, (1.0,), (True,), nothing, nothing, np.zeros((1, 1)))
    default = start.prior()[0]
    return replace(start, value=default, found=default)


@pytest.mark.parametrize(("confounded", "is_told"), [(0.9, True), (0.99, False)])
def test_a_constant_is_learned_where_the_data_tell_more_than_the_prior(
    confounded: float, is_told: bool
) -> None:
    """Closed form: the share 1 - r^2 of an information w is left when the mean curve is free."""
    start, flat = _of_general_part(), np.ones((1, 1))
    beforehand = CONSTANTS[0].sd ** -2.0
    of_mean, athletes = 0.5, 2
    complete = 20.0 * beforehand / athletes
    # The athletes' coordinates are half known, so the mean's information is half of theirs.
    slope = confounded * np.sqrt(complete * of_mean) * flat
    moments = SharedMoments(
        np.zeros(1), complete * flat, 0 * flat, slope, (1 - of_mean) * flat, np.zeros(1)
    )
    across = NormalAcross(np.zeros(1), flat, 0 * flat)
    summed = _summed([moments] * athletes)
    shared, _ = learn_shared(
        start, summed, across, 1e-9 * flat, pooled=True, settled=True, judged=True
    )
    assert (20.0 * (1.0 - confounded**2) > 1.0) == is_told
    assert shared.told == (is_told,)


@pytest.mark.parametrize(
    ("place", "same"),
    [
        (0, {"general_minutes": 10.0}),
        (1, {"rest_minutes": 8.0}),
        (2, {"ambient_c": 8.0}),
        (3, {"hour": 9.0}),
    ],
)
def test_nothing_is_learned_of_what_is_the_same_in_all_sessions(
    place: int, same: dict[str, float]
) -> None:
    rng = np.random.default_rng(5)
    truths = simulated_truths("saturating less linear", 8, rng)
    around = Surroundings(TRUE, lambda rng: replace(drawn_circumstances(rng), **same))
    frame = simulate_squad(truths, Protocol(), Noise(), rng, around)
    shared = ResponseModel(standard_volume=15).fit(frame, frame["value"]).fit_.learned.shared
    constant, known = CONSTANTS[place], known_constants(shared)[place]
    assert (known.status, known.value) == ("default", constant.default)
    assert (known.low, known.high) == (constant.low, constant.high)


def test_a_constant_without_effect_is_none(told: ResponseModel) -> None:
    assert told.account_.stretch_per_hour == 0.0


def test_a_folded_athlete_is_read_under_the_learned_account(
    told: ResponseModel,
) -> None:
    rows, values = _squad(TRUE, 3)
    own = rows["athlete"] == "A04"
    (again,) = arrange(rows[own], values[own], usual=told.usual_)
    folded, _, _ = fold_athlete(told.fit_, again)
    fitted = told.posterior("A04")
    assert fitted.rows is not None and folded.rows is not None
    assert folded.rows.volume == pytest.approx(fitted.rows.volume)
    assert not np.allclose(folded.rows.volume, again.volume)  # nor under the defaults


def test_sessions_without_circumstances_are_fitted_by_plain_volume() -> None:
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


def test_effects_on_the_level_match_generalised_least_squares() -> None:
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
