"""What own lengths are worth, and whether best volumes differ, computed in other ways as well."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.stats import halfnorm, norm

from modeling import ResponseModel
from modeling.answers.best_spread import told_of_spreads, weighed_spreads
from modeling.answers.worth import worth_of_gains
from modeling.curve.pairing import ALIKE
from modeling.estimate import percent
from modeling.fit.drawn import CURVES
from modeling.fit.posterior import Posterior
from modeling.testing.simulation import Noise, Protocol, simulate_squad, simulated_truths

FloatArray = NDArray[np.float64]
STANDARD = 15.0


@pytest.fixture(scope="module")
def fitted() -> ResponseModel:
    rng = np.random.default_rng(1)
    truths = simulated_truths("plateau with break", 10, rng)
    frame = simulate_squad(truths, Protocol(1, 6), Noise(), rng)
    return ResponseModel(standard_volume=STANDARD).fit(frame, frame["value"])


def gains_of(model: ResponseModel, posterior: Posterior, one: float) -> FloatArray:
    """Return an athlete's gain over one volume in every drawn curve."""
    assert posterior.rows is not None
    advised = model.responses_[posterior.rows.athlete].advised_volume
    change = percent(model.fit_.curves(posterior, np.array([advised, one])))
    return np.asarray(change[0] - change[1])


def number_of(chances: list[float]) -> FloatArray:
    """Return the chances of 0, 1, 2 ... events from independent chances (Poisson binomial)."""
    total = np.ones(1)
    for chance in chances:
        total = np.convolve(total, [1.0 - chance, chance])
    return total


def test_worth_and_how_many_gain_follow_from_all_curves(fitted: ResponseModel) -> None:
    squad = fitted.squad_
    assert squad.against_standard.volume == STANDARD
    for worth in (squad.against_single, squad.against_standard):
        own = [gains_of(fitted, each, worth.volume) for each in fitted.fit_.posteriors]
        weights = [np.full(CURVES, 1.0 / CURVES) for _ in own]
        mean = np.mean([w @ gain for w, gain in zip(weights, own, strict=True)])
        variances = np.array(
            [w @ gain**2 - (w @ gain) ** 2 for w, gain in zip(weights, own, strict=True)]
        )
        # Variance of a mean of variables that all correlate alike.
        apart, together = variances.sum(), np.sqrt(variances).sum() ** 2
        sd = np.sqrt((1.0 - ALIKE) * apart + ALIKE * together) / len(own)
        assert worth.worth_pct.median == pytest.approx(mean, abs=0.5 * sd)
        half = (worth.worth_pct.high - worth.worth_pct.low) / 2.0
        assert half == pytest.approx(1.645 * sd, rel=0.2)
        chances = [float(w @ (gain > 1.0)) for w, gain in zip(weights, own, strict=True)]
        low, median, high = np.searchsorted(np.cumsum(number_of(chances)), [0.05, 0.5, 0.95])
        assert worth.gaining.median == pytest.approx(median, abs=1.0)
        # Errors that athletes share spread the count further.
        assert low - 2 <= worth.gaining.low <= low and high <= worth.gaining.high <= high + 2
        assert worth.athletes == 10


def test_worth_counts_athletes_who_gain_more_than_is_worthwhile() -> None:
    gains = np.vstack([np.repeat([0.0, 2.0], [300, 100]), np.full(400, 3.0)])
    worth = worth_of_gains(8.0, gains, 1.0)
    assert worth.worth_pct.median == 1.5
    assert (worth.gaining.low, worth.gaining.median, worth.gaining.high) == (1.0, 1.0, 2.0)
    assert worth_of_gains(8.0, gains[:, ::-1], 3.0).gaining.high == 0.0


def test_without_a_standard_both_comparisons_are_with_the_best_single_volume() -> None:
    rng = np.random.default_rng(2)
    frame = simulate_squad(simulated_truths("Ricker", 4, rng), Protocol(1, 3), Noise(), rng)
    squad = ResponseModel().fit(frame, frame["value"]).squad_
    assert squad.against_standard == squad.against_single
    assert squad.standard_volume == squad.best_single_volume


# Normal likelihoods with a flat mean and a known spread integrate in closed form.
@pytest.mark.parametrize("nodes", [16, 900])
@pytest.mark.parametrize("apart", [0.0, 0.3, 1.0])
def test_evidence_that_best_volumes_differ_matches_the_closed_form(
    apart: float, nodes: int
) -> None:
    errors = np.array([0.3, 0.4, 0.25, 0.5, 0.35, 0.3])
    places = 2.5 + apart * np.array([-1.2, 0.4, 0.9, -0.3, 1.1, -0.9])
    centre, sd = 2.4, 0.8
    masses = []
    for place, error in zip(places, errors, strict=True):
        # As in the engine, each athlete has their own nodes, where their posterior lies.
        axis = np.linspace(place - 4.0 * error, place + 4.0 * error, nodes)
        mass = norm.pdf(axis, place, error) * norm.pdf(axis, centre, sd)
        masses.append((axis, mass / mass.sum()))

    def evidence(spread: float) -> float:
        precision = 1.0 / (errors**2 + spread**2)
        mean = precision @ places / precision.sum()
        squares = precision @ (places - mean) ** 2
        return float(np.exp(-0.5 * squares) * np.sqrt(precision.prod() / precision.sum()))

    differ = quad(lambda spread: evidence(spread) * halfnorm.pdf(spread), 0.0, 2.5)[0]
    found, chance = weighed_spreads(sum(told_of_spreads(*each, centre, sd) for each in masses))
    assert chance == pytest.approx(differ / (differ + evidence(0.0)), abs=0.02)
    below = quad(lambda spread: evidence(spread) * halfnorm.pdf(spread), 0.0, found.median)[0]
    assert below / differ == pytest.approx(0.5, abs=0.03)
