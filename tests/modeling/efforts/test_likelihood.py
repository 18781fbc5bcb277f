"""The likelihood of a cell, worked out again the long way."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize
from scipy.stats import multivariate_normal, norm
from scipy.stats import t as student

from modeling.compute.sums import stacked, together
from modeling.curve.advice import advised_volume
from modeling.curve.rise_and_fall import RiseAndFall
from modeling.curve.shapes import DataRange, even_axes
from modeling.efforts.cell_likelihood import cell_log_likelihood, curves_of_cells, features
from modeling.efforts.data_range import data_range
from modeling.efforts.observations import AthleteRows, arrange
from modeling.efforts.session_model import NoiseSizes, SessionModel
from modeling.efforts.spots import LENGTH, SESSION_LENGTH, Spots
from modeling.fit.noise import (
    Residuals,
    SizeScores,
    TailSums,
    learn_sizes,
    tail_dfs,
    tail_weights,
)
from modeling.fit.pooling import (
    Moments,
    NormalAcross,
    NormalSums,
    form_shares,
    grid_log_density,
    log_density,
    others_forms,
    update_normal,
)
from modeling.testing.fade import fade_is_over

DATA = DataRange(1.0, 40.0, 8.0, 0.2, 0.03)


def session_covariance(day: np.ndarray, drift: float, level_sd: float) -> np.ndarray:
    """Return the covariance of sessions from level and drift, which decays over 60 days."""
    apart = np.abs(day[:, None] - day)
    return np.asarray(level_sd**2 + drift**2 * np.exp(-apart / 60.0))


@pytest.mark.parametrize(("curve", "session_curve"), [(0.0, 0.0), (0.012, 0.008)])
def test_cells_have_the_density_of_the_full_covariance_matrix(
    curve: float, session_curve: float
) -> None:
    rng = np.random.default_rng(1)
    table = pd.DataFrame(
        {
            "athlete": "A1",
            "session": np.repeat([1, 2, 3], [5, 3, 4]),
            "day": np.repeat([0.0, 7.0, 30.0], [5, 3, 4]),
            "volume": [0.0, 1, 2, 3, 4, 10, 11, 12, 0, 5, 15, 25],
        }
    )
    rows = arrange(table, 40.0 * np.exp(0.05 * rng.standard_normal(12)))[0]
    noise = NoiseSizes(0.03, 0.02, 0.015, curve=curve, session_curve=session_curve)
    effort_weight, day_weight = rng.uniform(0.3, 1.2, 12), rng.uniform(0.3, 1.2, 3)
    family = RiseAndFall(nodes=(5, 3, 3), coarse_nodes=(5, 3, 3))
    grid = family.grid(DATA)
    spots = Spots.of(rows, 8.0 if curve else None)
    model = SessionModel.of(spots, noise, 0.12, effort_weight, day_weight)
    centred = rows.value - 3.6
    basis = tuple(family.basis(grid, j, rows.tried[0]) for j in range(2))
    found = cell_log_likelihood(features(model, centred, basis, grid), grid)

    between = session_covariance(rows.day, 0.015, 0.12) + np.diag(0.02**2 / day_weight)
    member = np.eye(3)[rows.session_index]
    full = member @ between @ member.T + np.diag(0.03**2 / effort_weight)
    place = spots.place[spots.of_effort]
    apart = place[:, None] - place
    full += curve**2 * np.exp(-0.5 * (apart / LENGTH) ** 2)
    full += session_curve**2 * np.exp(-0.5 * (apart / SESSION_LENGTH) ** 2) * (member @ member.T)
    for cell in (0, 17, 400, found.size - 1):
        curve = curves_of_cells(family, grid, np.array([cell]), rows.volume)[:, 0]
        expected = multivariate_normal.logpdf(centred, curve, full)
        assert found.ravel()[cell] == pytest.approx(expected, abs=1e-6)
    # The mean of every effect is its covariance with the efforts times V^-1 r.
    precise = np.linalg.solve(full, centred)
    pull = model.pull(model.spot_means(centred))
    np.testing.assert_allclose(model.precision_times(centred), precise, rtol=1e-9)
    np.testing.assert_allclose(model.session_effects(pull), between @ member.T @ precise, rtol=1e-9)
    known = between @ member.T @ np.linalg.solve(full, member @ between)
    np.testing.assert_allclose(model.session_variances, np.diag(between - known), rtol=1e-9)


# In balanced data, sums of squares within and between sessions have closed forms (Searle and
# others 1992).
@pytest.mark.parametrize(
    ("sessions", "efforts", "level", "effort", "day"),
    [(60, 24, 0.15, 5e-4, 5e-4), (1, 1440, 0.15, 5e-4, 5e-4), (55, 48, 8.0, 0.02, 0.14)],
)
def test_efforts_with_hardly_any_noise_lose_no_digits(
    sessions: int, efforts: int, level: float, effort: float, day: float
) -> None:
    table = pd.DataFrame({"athlete": "A1", "session": np.repeat(np.arange(sessions), efforts)})
    table = table.assign(volume=np.arange(len(table)) % efforts, day=3.0 * table["session"])
    rows = arrange(table, np.full(len(table), 40.0))[0]
    even = np.ones(rows.efforts), np.ones(sessions)
    model = SessionModel.of(Spots.of(rows, None), NoiseSizes(effort, day, 0.0), level, *even)
    mean = effort**2 / efforts
    certain = 1.0 / (level**2 + (day**2 + mean) / sessions)
    assert model.precise_one.sum() == pytest.approx(certain, rel=1e-9)
    every_day, apart = mean / (day**2 + mean + sessions * level**2), mean / (day**2 + mean)
    left = (every_day + (sessions - 1) * apart) / sessions
    assert model.left == pytest.approx(left, rel=1e-9)
    assert np.diag(model.shrink) == pytest.approx((1.0 - left) * mean, rel=1e-9)

    family = RiseAndFall(nodes=(5, 3, 3), coarse_nodes=(5, 3, 3))
    grid = family.grid(DATA)
    basis = tuple(family.basis(grid, j, rows.tried[0]) for j in range(2))
    found = features(model, np.ones(rows.efforts), basis, grid)
    assert found.level_linear == pytest.approx(certain, rel=1e-8)
    rise = basis[0][:efforts]
    squares = sessions * ((rise - rise.mean(axis=0)) ** 2).sum(axis=0) / effort**2
    squares += rise.mean(axis=0) ** 2 * certain
    assert found.quadratic[:, 0, 0] == pytest.approx(squares[grid.node[0]], rel=1e-9, abs=1e-3)


def test_curves_rise_to_zero_at_the_best_volume_and_are_ten_per_cent_down_after_the_hold() -> None:
    family = RiseAndFall()
    grid = family.grid(DATA)
    cells = np.linspace(0, grid.forms * grid.cells_per_form - 1, 60).astype(int)
    for cell in cells:
        log_best, log_gain, log_hold = grid.coordinates[cell % grid.cells_per_form]
        best, hold = np.exp(log_best), np.exp(log_hold)
        at = curves_of_cells(family, grid, np.array([cell]), np.array([0.0, best, best + hold]))[
            :, 0
        ]
        np.testing.assert_allclose(at, [-np.exp(log_gain), 0.0, np.log(0.9)], atol=1e-9)


def test_a_grid_at_the_edge_of_the_widest_range_keeps_a_width() -> None:
    widest = np.zeros(2), np.ones(2)
    around = np.array([1.5, -0.9]), np.array([2.5, -0.4])
    for axis in even_axes(widest, around, (5, 5), (4, 4)):
        assert np.all(np.diff(axis) > 0) and 0.0 <= axis[0] < axis[-1] <= 1.0


def test_the_first_guess_at_the_noise_is_not_fooled_by_efforts_at_one_volume() -> None:
    # Sorted by value within the volume, neighbours hardly differ.
    table = pd.DataFrame({"athlete": "A1", "session": 1, "volume": np.full(300, 8.0)})
    value = 40.0 * np.exp(0.03 * np.random.default_rng(5).standard_normal(300))
    assert data_range(arrange(table, value)).noise == pytest.approx(0.03, rel=0.2)


def test_normal_density_matches_scipy() -> None:
    covariance = np.array([[1.0, 0.3], [0.3, 0.5]])
    points = np.random.default_rng(2).standard_normal((7, 2))
    across = NormalAcross(np.array([0.2, -0.1]), covariance, np.zeros((2, 2)))
    np.testing.assert_allclose(
        log_density(points, across), multivariate_normal.logpdf(points, [0.2, -0.1], covariance)
    )


def test_normal_density_on_grids_matches_scipy() -> None:
    rng = np.random.default_rng(3)
    root = rng.normal(size=(3, 3))
    across = NormalAcross(rng.normal(size=3), root @ root.T + np.eye(3), np.zeros((3, 3)))
    axes = [np.sort(rng.normal(size=(2, count)), axis=1) for count in (4, 3, 5)]
    found = grid_log_density(axes, across)
    for grid in range(2):
        mesh = np.meshgrid(*(axis[grid] for axis in axes), indexing="ij")
        points = np.stack([each.ravel() for each in mesh], axis=1)
        expected = multivariate_normal.logpdf(points, across.mean, across.covariance)
        np.testing.assert_allclose(found[grid], expected, rtol=1e-10)


def test_sizes_maximise_the_density_of_the_full_covariance_matrix() -> None:
    # Against scipy's normal density and its derivative-free search, over three athletes with
    # different numbers of sessions, so that padding is tested as well.
    rng = np.random.default_rng(9)
    full = []
    for sessions in (4, 7, 11):
        table = pd.DataFrame({"athlete": "A1", "session": np.repeat(np.arange(sessions), 6)})
        table["day"], table["volume"] = 9.0 * table["session"], 0.0
        value = (
            0.3 * rng.standard_normal(len(table))
            + 0.2 * rng.standard_normal(sessions)[table["session"]]
        )
        rows = arrange(table, value, scale="identity")[0]
        effort_weight, day_weight = (
            rng.uniform(0.4, 1.3, rows.efforts),
            rng.uniform(0.4, 1.3, sessions),
        )
        residual = rows.value[:, None] + np.array([[-0.05, 0.0, 0.05]])
        full.append((rows, residual, effort_weight, day_weight))

    def cost(logs: np.ndarray) -> float:
        effort, day = np.exp(logs)
        total = 0.5 * day**2 / (3.0 * effort) ** 2
        for rows, residual, effort_weight, day_weight in full:
            member = np.eye(len(day_weight))[rows.session_index]
            between = 0.4**2 + np.diag(day**2 / day_weight)
            covariance = member @ between @ member.T + np.diag(effort**2 / effort_weight)
            total -= multivariate_normal(cov=covariance).logpdf(residual.T).mean()
        return float(total)

    expected = np.exp(minimize(cost, np.log([0.3, 0.2]), method="Nelder-Mead", tol=1e-8).x)
    found = NoiseSizes(0.1, 0.1, 0.0)
    free = {"effort": True, "day": True, "drift": False, "session_curve": False}
    for _ in range(30):
        scores = [scores_of(*each, found) for each in full]
        found = learn_sizes(together([stacked(scores)]), found, floor=1e-3, free=free)
    assert (found.effort, found.day) == pytest.approx(tuple(expected), rel=1e-3)
    assert found.drift == 0.0


def scores_of(
    rows: AthleteRows,
    residual: np.ndarray,
    effort_weight: np.ndarray,
    day_weight: np.ndarray,
    noise: NoiseSizes,
) -> SizeScores:
    model = SessionModel.of(Spots.of(rows, None), noise, 0.4, effort_weight, day_weight)
    left = residual - model.effects(residual)[model.spots.of_effort]
    return SizeScores.of(model, left, model.pull(model.spot_means(residual)), day_weight)


def test_scores_are_the_slopes_of_the_density_and_information_their_covariance() -> None:
    """Compare with differences of SciPy's normal density, and with the expected score (Fisher)."""
    rng = np.random.default_rng(3)
    table = pd.DataFrame({"athlete": "A1", "session": np.repeat([0, 1, 2], 7)})
    table["day"], table["volume"] = 20.0 * table["session"], np.tile(np.arange(0.0, 14.0, 2.0), 3)
    rows = arrange(table, 0.1 * rng.standard_normal(21), scale="identity")[0]
    spots, even = Spots.of(rows, 6.0), (np.ones(21), np.ones(3))
    noise = NoiseSizes(0.05, 0.04, 0.03, curve=0.02, session_curve=0.03)

    def covariance(variances: np.ndarray) -> np.ndarray:
        effort, day, drift, session_curve = np.sqrt(variances)
        member = np.eye(3)[rows.session_index]
        between = session_covariance(rows.day, float(drift), 0.1) + np.diag(np.full(3, day**2))
        apart = spots.place[spots.of_effort][:, None] - spots.place[spots.of_effort]
        full = member @ between @ member.T + np.diag(np.full(21, effort**2))
        full += noise.curve**2 * np.exp(-0.5 * (apart / LENGTH) ** 2)
        own = np.exp(-0.5 * (apart / SESSION_LENGTH) ** 2) * (member @ member.T)
        return np.asarray(full + session_curve**2 * own)

    model = SessionModel.of(spots, noise, 0.1, *even)
    residual = rows.value[:, None]
    left = residual - model.effects(residual)[spots.of_effort]
    found = SizeScores.of(model, left, model.pull(model.spot_means(residual)), even[1])
    now = np.array([0.05, 0.04, 0.03, 0.03]) ** 2
    slopes, parts = [], []
    for k in range(4):
        step = np.eye(4)[k] * 1e-4 * now[k]
        high, low = covariance(now + step), covariance(now - step)
        logs = [multivariate_normal(cov=each).logpdf(rows.value) for each in (high, low)]
        slopes.append((logs[0] - logs[1]) / (2.0 * step[k]))
        parts.append(np.linalg.solve(covariance(now), (high - low) / (2.0 * step[k])))
    information = [[0.5 * np.trace(one @ other) for one in parts] for other in parts]
    np.testing.assert_allclose(found.score, slopes, rtol=1e-4)
    np.testing.assert_allclose(found.information, information, rtol=1e-6)


def test_squad_update_converges_to_the_restricted_likelihood_answer() -> None:
    # Balanced one-way layout: between variance = var(means) - sampling variance (closed form).
    rng = np.random.default_rng(3)
    means, sampling = rng.normal(2.0, 1.0, 12), 0.4
    across = NormalAcross(np.zeros(1), np.eye(1), np.zeros((1, 1)))
    for _ in range(400):
        variance = float(across.covariance[0, 0])
        share = variance / (variance + sampling)
        posterior = share * means + (1 - share) * across.mean[0]
        moments = Moments(posterior[:, None], np.full((12, 1, 1), share * sampling))
        across = update_normal(together([NormalSums.of(moments, across)]), across)
    assert across.mean[0] == pytest.approx(means.mean(), abs=1e-6)
    assert across.covariance[0, 0] == pytest.approx(np.var(means, ddof=1) - sampling, rel=1e-4)
    assert across.mean_covariance[0, 0] == pytest.approx(np.var(means, ddof=1) / 12, rel=1e-4)


def test_a_posterior_wider_than_the_squad_tells_nothing_about_its_mean() -> None:
    # Closed form: two athletes give information 0.8 each, two seem to give less than none; the
    # total is then 1.6, not 0, and the mean has variance 1 / 1.6.
    across = NormalAcross(np.zeros(1), np.eye(1), np.zeros((1, 1)))
    covariance = np.array([0.2, 0.2, 1.8, 1.8])[:, None, None]
    moments = Moments(np.zeros((4, 1)), covariance)
    found = update_normal(together([NormalSums.of(moments, across)]), across)
    assert found.mean_covariance[0, 0] == pytest.approx(1 / 1.6)
    assert found.covariance[0, 0] == pytest.approx((0.4 + 3.6 + 2 * 0.8**2 / 1.6) / 4)


def test_an_athlete_is_weighted_by_the_forms_of_the_others() -> None:
    # When forms are certain, proportions are counts of the others plus half an athlete a form.
    evidence = np.array([[1.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    squad, others = settled_forms(evidence)
    np.testing.assert_allclose(squad, np.array([2.5, 1.5, 0.5]) / 4.5)
    np.testing.assert_allclose(others[0], np.array([1.5, 1.5, 0.5]) / 3.5)
    np.testing.assert_allclose(others[2], np.array([2.5, 0.5, 0.5]) / 3.5)
    _, alone = settled_forms(np.array([[5.0, 1.0]]))
    np.testing.assert_allclose(alone, 0.5)


def settled_forms(evidence: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return proportions in the squad and among each one's others, plus half an athlete a form."""
    others = np.full_like(evidence, 1.0 / evidence.shape[1])
    for _ in range(8):
        share = form_shares(evidence, others)
        total = share.sum(axis=0) + 0.5
        others = others_forms(total, share)
    return total / total.sum(), others


@pytest.mark.parametrize(("df", "low", "high"), [(3.0, 3.0, 6.0), (np.inf, 10.0, np.inf)])
def test_tails_are_recognised(df: float, low: float, high: float) -> None:
    rng = np.random.default_rng(4)
    draws = (
        norm.rvs(size=4000, random_state=rng)
        if np.isinf(df)
        else student.rvs(df, size=4000, random_state=rng)
    )
    residuals = [Residuals.of([draws[:1000] ** 2, draws[1000:] ** 2])]
    found = tail_dfs(
        1,
        lambda scale, compared: together([TailSums.of(residuals, scale, compared=compared)]),
    )
    assert low <= found[0] <= high


def test_outlying_efforts_get_little_weight() -> None:
    np.testing.assert_allclose(tail_weights(np.array([0.0, 4.0, 96.0]), 4.0), [1.25, 0.625, 0.05])
    np.testing.assert_allclose(tail_weights(np.array([0.0, 96.0]), np.inf), 1.0)


def test_fade_rule_needs_three_in_a_row_below_ninety_per_cent() -> None:
    assert not fade_is_over([50.0, 44.0, 44.0])
    assert fade_is_over([50.0, 44.0, 44.0, 44.9])
    assert not fade_is_over([50.0, 44.0, 44.0, 45.0])  # 45.0 is 90 %, not below
    assert not fade_is_over([50.0, 44.0, 46.0, 44.0])
    assert fade_is_over([50.0, 44.0, 44.0], share=0.9, in_a_row=2)


def test_advice_saves_volume_for_the_efforts_to_follow_and_breaks_ties_short() -> None:
    volume = np.arange(0.0, 31.0)
    peaked = -np.abs(volume - 12.0)
    assert advised_volume(volume, peaked) == 12.0
    assert advised_volume(volume, peaked, efforts_to_follow=9) == 8.0  # 8..16 is centred on 12
    assert advised_volume(volume, np.zeros_like(volume)) == 0.0
    with pytest.raises(ValueError, match="must be 1 or more. Got 0"):
        advised_volume(volume, peaked, efforts_to_follow=0)


def test_drift_is_passed_on_as_the_correlations_say() -> None:
    rng = np.random.default_rng(8)
    table = pd.DataFrame({"athlete": "A1", "session": np.arange(6), "volume": 3.0})
    table["day"] = [0.0, 0.0, 2.5, 40.0, 41.0, 400.0]
    rows = arrange(table, rng.standard_normal(6), scale="identity")[0]
    spots, columns = Spots.of(rows, 6.0), rng.standard_normal((6, 4))
    np.testing.assert_allclose(spots.drifting(columns), spots.alike_in_time @ columns, rtol=1e-12)
