"""The checks of a fit, against closed forms, refits and data drawn from the model itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import quad
from scipy.stats import binom, kstest, norm
from scipy.stats import t as student

from modeling import ResponseModel
from modeling.checks.leave_out import evidence_of, session_places
from modeling.checks.predictive import FitCheck, check_fit, tail_factor, volume_bands
from modeling.efforts.cell_likelihood import curves_of_cells
from modeling.efforts.observations import AthleteRows, arrange
from modeling.efforts.session_model import NoiseSizes
from modeling.fit.drawn import CURVES
from modeling.fit.engine import fit_squad, fold_athlete
from modeling.fit.pooling import NormalAcross
from modeling.fit.squad_fit import EngineSettings, SquadFit
from modeling.testing.simulation import Noise, Protocol, simulate_squad, simulated_truths
from tests.modeling.families import StraightLine

EFFORT, DAY = 0.03, 0.02


def with_learned(fit: SquadFit, **changes: object) -> SquadFit:
    """Return the same fit as if it had learned something else."""
    return replace(fit, learned=replace(fit.learned, **changes))


# Bands of volume


def test_bands_have_similar_counts_and_never_split_a_volume() -> None:
    volume = np.random.default_rng(1).poisson(14.0, 3000).astype(float)
    tops = volume_bands(volume)
    counts = np.bincount(np.searchsorted(tops, volume))
    assert 6 <= len(tops) <= 12
    assert counts.min() >= 250
    assert tops[-1] == volume.max()


@pytest.mark.parametrize(("efforts", "bands"), [(1, 1), (19, 1), (39, 1), (40, 2), (100, 5)])
def test_bands_have_twenty_efforts_each_where_there_are_enough(efforts: int, bands: int) -> None:
    volume = np.arange(float(efforts))
    tops = volume_bands(volume)
    assert len(tops) == bands
    assert np.bincount(np.searchsorted(tops, volume)).min() >= min(efforts, 20)


def test_equal_volumes_make_one_band() -> None:
    assert volume_bands(np.full(500, 15.0)).tolist() == [15.0]


@pytest.mark.parametrize("df", [3.0, 6.0, 20.0])
def test_variance_of_a_weighted_mean_of_t_noise(df: float) -> None:
    """An M-estimate's variance is E[psi^2] / E[psi']^2, here by numerical integration."""

    def psi(r: float) -> float:
        return (df + 1) * r / (df + r**2)

    def slope(r: float) -> float:
        return (df + 1) * (df - r**2) / (df + r**2) ** 2

    squared = quad(lambda r: psi(r) ** 2 * student.pdf(r, df), -np.inf, np.inf)[0]
    mean_slope = quad(lambda r: slope(r) * student.pdf(r, df), -np.inf, np.inf)[0]
    # The weights alone would give 1 / E[w], and E[w] is 1 for a t distribution.
    assert tail_factor(df) == pytest.approx(squared / mean_slope**2, rel=1e-6)
    assert tail_factor(np.inf) == 1.0


# Sessions left out


def straight_squad(
    slopes: StraightLine, athletes: int = 6, sessions: int = 4, efforts: int = 5
) -> tuple[list[AthleteRows], SquadFit]:
    """Return a squad whose curves are straight lines, and its fit with normal noise."""
    rng = np.random.default_rng(7)
    volume = np.tile(np.arange(float(efforts)), sessions)
    rows = []
    for athlete in range(athletes):
        session = np.repeat(np.arange(sessions), efforts)
        signal = 0.1 * rng.standard_normal() + rng.normal(-0.004, 0.004) * volume
        day = DAY * rng.standard_normal(sessions)
        value = 40.0 * np.exp(signal + day[session] + EFFORT * rng.standard_normal(len(volume)))
        rows.append(
            pd.DataFrame(
                {
                    "athlete": f"A{athlete}",
                    "session": session,
                    "day": 7.0 * session,
                    "volume": volume,
                    "value": value,
                }
            )
        )
    table = pd.concat(rows, ignore_index=True)
    arranged = arrange(table, table["value"])
    settings = EngineSettings(family=slopes, drift=False, heavy_tails=False, rounds=6)
    return arranged, fit_squad(arranged, settings)


def test_place_of_a_normal_session_is_its_normal_probability() -> None:
    """With one slope and balanced sessions the predictive is the textbook shrunken mean."""
    rows, fit = straight_squad(StraightLine(-1e-9, 1e-9), sessions=2)
    mean, level = 3.7, 0.1
    squad_level = NormalAcross(np.array([mean]), np.array([[level**2]]), np.zeros((1, 1)))
    fit = with_learned(fit, noise=NoiseSizes(EFFORT, DAY, 0.0), level=squad_level)
    rng = np.random.default_rng(0)
    for known, own in zip(evidence_of(fit), rows, strict=True):
        means = own.session_sums(own.value) / 5
        total = level**2 + DAY**2 + EFFORT**2 / 5
        share = level**2 / total
        expected = norm.cdf(
            means, mean + share * (means[::-1] - mean), np.sqrt(total * (1.0 - share**2))
        )
        places = session_places(fit, known, rng)
        np.testing.assert_allclose(places.session, expected, rtol=1e-7)


def test_leaving_a_session_out_by_weights_matches_a_refit_without_it() -> None:
    """For straight lines a refit without the session, the long way, predicts the same."""
    rows, fit = straight_squad(StraightLine(-0.02, 0.02))
    places = [
        session_places(fit, known, np.random.default_rng(0))
        for known in evidence_of(fit, own_draws=4000, squad_draws=2000)
    ]
    for own, place in zip(rows, places, strict=True):
        refitted = [predicted_place(fit, own, session) for session in range(4)]
        np.testing.assert_allclose(place.session, refitted, atol=2e-3)
        assert place.effective_draws.min() > 500


def predicted_place(fit: SquadFit, rows: AthleteRows, session: int) -> float:
    """Refit without a session, then predict its mean from full covariance matrices."""
    kept = rows.session_index != session
    others = replace(
        rows,
        sessions=np.delete(rows.sessions, session),
        day=np.delete(rows.day, session),
        marks={name: np.delete(mark, session) for name, mark in rows.marks.items()},
        session_index=np.unique(rows.session_index[kept], return_inverse=True)[1],
        volume=rows.volume[kept],
        value=rows.value[kept],
        weight=rows.weight[kept],
        work=rows.work.select(kept),
    )
    posterior, _, _ = fold_athlete(fit, others)
    between = np.full((len(rows.day),) * 2, float(fit.learned.level.covariance[0, 0]))
    between = between + fit.learned.noise.day**2 * np.eye(len(rows.day))
    member = np.eye(len(rows.day))[rows.session_index]
    full = member @ between @ member.T + fit.learned.noise.effort**2 * np.eye(rows.efforts)
    mean_of = np.where(kept, 0.0, 1.0) / np.sum(~kept)
    gain = np.linalg.solve(full[np.ix_(kept, kept)], full[kept] @ mean_of)
    spread = np.sqrt(mean_of @ full @ mean_of - (full[kept] @ mean_of) @ gain)
    curves = curves_of_cells(fit.settings.family, posterior.grid, posterior.cells, rows.volume)
    residual = (rows.value - fit.learned.level.mean[0])[:, None] - curves
    below = norm.cdf(mean_of @ residual, gain @ residual[kept], spread)
    return float(posterior.weight @ below)


# Squads drawn from the model itself


@pytest.fixture(scope="module")
def believed() -> SquadFit:
    """A fit whose squad distribution the squads below are drawn from."""
    rng = np.random.default_rng(1)
    squad = simulate_squad(simulated_truths("Ricker", 20, rng), Protocol(2, 6), Noise(), rng)
    return ResponseModel(standard_volume=15.0).fit(squad, squad["value"]).fit_


def squad_of(believed: SquadFit, seed: int, athletes: int = 20, df: float = 1e6) -> pd.DataFrame:
    """Draw curves from a squad distribution, and noise from t; eight sessions an athlete."""
    rng = np.random.default_rng(seed)
    prior = believed.prior_posterior()
    curves = believed.curves(prior, np.arange(61.0))[:, rng.choice(CURVES, athletes)]
    rows = []
    for athlete in range(athletes):
        level = np.log(40.0) + 0.12 * rng.standard_normal()
        for session in range(8):
            start = 0 if session < 2 else int(rng.integers(5, 25))
            volume = start + np.arange(40 if session < 2 else 3)
            day = DAY * student.rvs(df, random_state=rng)
            noise = EFFORT * student.rvs(df, size=len(volume), random_state=rng)
            rows.append(
                pd.DataFrame(
                    {
                        "athlete": f"A{athlete:02d}",
                        "session": f"{athlete}-{session}",
                        "day": 7.0 * session,
                        "volume": volume.astype(float),
                        "value": np.exp(level + curves[volume, athlete] + day + noise),
                    }
                )
            )
    return pd.concat(rows, ignore_index=True)


def fits_of(squads: list[pd.DataFrame]) -> list[SquadFit]:
    return [ResponseModel(standard_volume=15.0).fit(s, s["value"]).fit_ for s in squads]


@pytest.fixture(scope="module")
def right(believed: SquadFit) -> list[SquadFit]:
    return fits_of([squad_of(believed, seed) for seed in range(1, 7)])


@pytest.fixture(scope="module")
def checked(right: list[SquadFit]) -> list[FitCheck]:
    return [check_fit(fit) for fit in right]


def share_inside(checks: list[FitCheck]) -> tuple[int, int]:
    return sum(c.sessions.inside for c in checks), sum(c.sessions.sessions for c in checks)


def test_places_are_uniform_if_the_model_is_right(checked: list[FitCheck]) -> None:
    places = np.concatenate([check.sessions.places for check in checked])
    assert len(places) >= 850
    assert kstest(places, "uniform").pvalue > 0.01


def test_nine_in_ten_are_inside_if_the_model_is_right(checked: list[FitCheck]) -> None:
    inside, sessions = share_inside(checked)
    low, high = binom.ppf([0.005, 0.995], sessions, 0.9)
    assert low <= inside <= high
    efforts = sum(check.sessions.efforts for check in checked)
    assert sum(c.sessions.efforts_inside for c in checked) / efforts == pytest.approx(0.9, abs=0.02)
    bands = [band for check in checked for band in check.bands]
    low, high = binom.ppf([0.005, 0.995], len(bands), 0.9)
    assert len(bands) >= 50
    assert low <= sum(band.inside for band in bands) <= high


def test_bands_scatter_as_much_as_their_intervals_say(checked: list[FitCheck]) -> None:
    """If the intervals included the curves' uncertainty, this would be near 0.6."""
    scaled = [
        1.645 * (band.observed_pct - band.expected_pct) / (band.high_pct - band.expected_pct)
        for check in checked
        for band in check.bands
    ]
    assert 0.8 < np.std(scaled) < 1.2


def test_histogram_counts_every_session_once(checked: list[FitCheck]) -> None:
    for check in checked:
        sessions = check.sessions
        assert sessions.counts.sum() == sessions.sessions == len(sessions.places)
        assert (sessions.fewest, sessions.most) == tuple(
            binom.ppf([0.05, 0.95], sessions.sessions, 0.1)
        )
        assert sum(band.efforts for band in check.bands) == 20 * (2 * 40 + 6 * 3)


def test_heavy_tails_are_part_of_the_prediction(believed: SquadFit) -> None:
    fits = fits_of([squad_of(believed, seed, df=4.0) for seed in (4, 5)])
    assert all(fit.learned.noise.effort_df <= 10.0 for fit in fits)
    checks = [check_fit(fit) for fit in fits]
    efforts = sum(check.sessions.efforts for check in checks)
    inside = sum(check.sessions.efforts_inside for check in checks)
    assert inside / efforts == pytest.approx(0.9, abs=0.03)
    bands = [band for check in checks for band in check.bands]
    assert np.mean([band.inside for band in bands]) >= 0.7


@pytest.mark.parametrize(("factor", "likely"), [(0.4, "fewer"), (2.5, "more")])
def test_wrong_noise_shows_in_places_and_coverage(
    right: list[SquadFit], factor: float, likely: str
) -> None:
    wrong = [
        with_learned(
            fit,
            noise=replace(fit.learned.noise, day=factor * fit.learned.noise.day, drift=0.0),
        )
        for fit in right
    ]
    checks = [check_fit(fit) for fit in wrong]
    inside, sessions = share_inside(checks)
    chance = binom.cdf(inside, sessions, 0.9)
    assert chance < 1e-4 if likely == "fewer" else chance > 1 - 1e-4
    assert kstest(np.concatenate([c.sessions.places for c in checks]), "uniform").pvalue < 1e-3


def test_wrong_curves_show_in_the_bands(right: list[SquadFit]) -> None:
    """Values beyond 30 efforts are 2 % higher than those that the curves were fitted to."""
    fit = right[0]
    lifted = [
        replace(p, rows=replace(p.rows, value=p.rows.value + 0.02 * (p.rows.volume > 30)))
        for p in fit.posteriors
        if p.rows is not None
    ]
    bands = check_fit(replace(fit, posteriors=tuple(lifted))).bands
    above = [band for band in bands if band.lowest_volume > 30]
    assert above and not any(band.inside for band in above)
    assert all(band.observed_pct > band.high_pct for band in above)


def test_checks_are_the_same_every_time(right: list[SquadFit], checked: list[FitCheck]) -> None:
    heavy = with_learned(right[0], noise=replace(right[0].learned.noise, effort_df=6.0, day_df=6.0))
    first, second = check_fit(heavy), check_fit(heavy)
    assert first.bands == second.bands
    np.testing.assert_array_equal(first.sessions.places, second.sessions.places)
    assert check_fit(right[0]).bands == checked[0].bands


def test_an_athlete_s_only_session_is_not_predicted(believed: SquadFit) -> None:
    squad = squad_of(believed, 3, athletes=6)
    squad = squad[(squad["athlete"] != "A00") | (squad["session"] == "0-0")]
    check = check_fit(fits_of([squad])[0])
    assert check.sessions.sessions <= 5 * 8
    assert sum(band.efforts for band in check.bands) == len(squad)
