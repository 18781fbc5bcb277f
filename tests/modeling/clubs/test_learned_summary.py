"""What a club's fit tells others: about the squad, and about no single athlete."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from modeling import ModelError, ResponseModel
from modeling.clubs.learned_summary import (
    FEWEST_ATHLETES,
    LearnedSummary,
    learned_summary,
)
from modeling.curve.rise_and_fall import RiseAndFall
from modeling.curve.smooth_curve import SmoothRiseAndFall
from modeling.fit.pooling import NormalAcross
from modeling.fit.shared import BEFOREHAND, SharedEffects
from modeling.testing.simulation import Noise, Protocol, simulate_squad
from modeling.testing.true_curves import truth

ATHLETES = 10
TYPICAL = np.exp(0.5 * np.random.default_rng(7).standard_normal(ATHLETES - 1))


def summary_with(last_best: float) -> LearnedSummary:
    """Summarise a squad in which only the last athlete varies; the noise stays the same."""
    rng = np.random.default_rng(11)
    bests = [*(14.0 * TYPICAL), last_best]
    truths = [truth("Ricker", best, 0.07, 6.0 + best) for best in bests]
    frame = simulate_squad(truths, Protocol(1, 4), Noise(0.02, 0.01), rng)
    model = ResponseModel(standard_volume=15, family=RiseAndFall()).fit(frame, frame["value"])
    return learned_summary(model.fit_, len(truths))


def test_the_summary_does_not_give_an_athlete_away() -> None:
    told = {best: summary_with(best) for best in (7.0, 12.0, 14.0, 17.0, 20.0, 28.0)}
    assert told[12.0] == told[14.0] == told[17.0] == told[20.0], "whoever is like the others"
    for one in (told[7.0], told[28.0]):
        for step, moved in zip(one.mean_sd, np.subtract(one.mean, told[14.0].mean), strict=True):
            assert abs(moved) <= step, "who is unlike them moves no number by more than a step"
        apart = np.log(one.spread) - np.log(told[14.0].spread)
        assert np.abs(apart).max() <= 1.001 / np.sqrt(2.0 * ATHLETES)


def test_few_athletes_tell_nothing() -> None:
    with pytest.raises(ModelError, match="needs at least 8"):
        learned_summary(_fit_of(FEWEST_ATHLETES - 1), FEWEST_ATHLETES - 1)


def _fit_of(athletes: int):
    rng = np.random.default_rng(3)
    truths = [truth("Ricker", 14.0, 0.07, 20.0)] * athletes
    frame = simulate_squad(truths, Protocol(1, 0), Noise(), rng)
    model = ResponseModel(family=RiseAndFall(), rounds=1).fit(frame, frame["value"])
    return model.fit_


def test_numbers_are_rounded_to_steps_of_their_own_uncertainty() -> None:
    fit = _fit_of(FEWEST_ATHLETES)
    told = learned_summary(fit, 11)
    across = fit.learned.across
    assert told.athletes == 8
    for mean, error, exactly, surely in zip(
        told.mean,
        told.mean_sd,
        across.mean,
        np.sqrt(np.diag(across.mean_covariance)),
        strict=True,
    ):
        assert abs(mean - exactly) <= 0.5 * error * 1.001
        assert mean / error == pytest.approx(round(mean / error), abs=1e-4)
        assert 0.7 <= error / surely <= 1.42


def test_a_squad_of_smooth_curves_is_summarised_in_the_same_coordinates() -> None:
    family = SmoothRiseAndFall()
    fit = _fit_of(FEWEST_ATHLETES)
    tight = np.diag([1e-3, 1e-3, 1e-3]) ** 2
    mean = np.array([np.log(14.0), 0.0, np.log(0.07)])
    learned = replace(fit.learned, across=NormalAcross(mean, tight, tight), form_weight=np.ones(1))
    smooth = replace(fit, settings=replace(fit.settings, family=family), learned=learned)
    told = learned_summary(smooth, 8)
    best, gain, hold = np.exp(told.mean)
    assert (best, gain) == (pytest.approx(14.0, rel=0.01), pytest.approx(0.07, rel=0.01))
    down = family.curves(np.zeros(1, int), mean[None, :], np.array([14.0 + hold]))
    assert np.exp(down.item()) == pytest.approx(0.9, abs=0.002)
    assert told.spread[0] == pytest.approx(1e-3, rel=0.3)


def test_constants_tell_only_what_the_squad_itself_learned_from_many_athletes() -> None:
    """Closed form: taking one of two joined normals off again leaves the other."""
    fit = _fit_of(FEWEST_ATHLETES)
    (thought, sd), own, error = BEFOREHAND[1], 1 / 14.0, 0.002
    joined = 1.0 / (sd**-2.0 + error**-2.0)
    found = joined * (thought * sd**-2.0 + own * error**-2.0)
    shared = SharedEffects(
        marks=("game",),
        constants=(True, True, False, False),
        varied=(1.0, 1.0),
        told=(False, True),
        value=np.array([0.0, 0.3, found]),
        found=np.array([0.0, 0.3, found]),
        covariance=np.diag([1e-4, 0.1, joined]),
    )
    knowing = replace(fit, learned=replace(fit.learned, shared=shared))
    none, told, *others = learned_summary(knowing, 8, (8, 8, 8, 8)).constants
    assert none is None and others == [None, None]
    assert told is not None
    assert told[0] == pytest.approx(own, abs=0.5 * told[1]) and 0.7 <= told[1] / error <= 1.42
    assert learned_summary(knowing, 8, (8, 7, 8, 8)).constants == (None,) * 4, "of few it is theirs"


@pytest.mark.parametrize(
    "damage",
    [
        {"constants": (None,) * 3},
        {"constants": ((0.05, 0.0), None, None, None)},
        {"mean": (1.0, 2.0)},
        {"spread": (1.0, -1.0, 1.0)},
        {"noise": (0.1, float("nan"), 0.1, 0.1)},
        {"correlation": (1.5, 0.0, 0.0)},
        {"athletes": 3},
    ],
)
def test_an_impossible_summary_is_refused(damage: dict) -> None:
    with pytest.raises(ValueError):
        replace(WHOLE, **damage)


WHOLE = LearnedSummary(
    8, (2.6, -2.6, 3.0), (0.1,) * 3, (0.6, 0.5, 0.5), (0.0, 1.0, 0.0), (0.03, 0.02, 0.01, 0.01)
)


def test_correlations_that_rounding_made_impossible_still_make_a_covariance() -> None:
    impossible = replace(WHOLE, correlation=(1.0, 1.0, -1.0))
    covariance = impossible.covariance
    assert np.linalg.eigvalsh(covariance).min() > 0
    assert np.sqrt(np.diag(covariance)) == pytest.approx(impossible.spread)
