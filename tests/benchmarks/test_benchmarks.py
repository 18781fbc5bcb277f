"""Parts of the benchmarks on a tiny squad: what each peer answers, and how answers are judged."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from modeling.testing.simulation import Noise, truth
from tests.benchmarks import accuracy, held_out, rise_and_fall, side_by_side
from tests.benchmarks.best_possible import weigh
from tests.benchmarks.peers import (
    GaussianProcess,
    MixedQuadratic,
    OwnModel,
    OwnQuadratic,
    Peer,
    UsualRule,
    linear_posterior,
    session_noise,
)
from tests.benchmarks.scores import (
    CALLS,
    advice_from_curves,
    best_range,
    scores_of,
    true_call,
    volumes_up_to,
)
from tests.benchmarks.squads import OWN_FAMILY, STANDARD, draw_squad

CHEAP: tuple[type[Peer], ...] = (
    OwnModel,
    UsualRule,
    OwnQuadratic,
    MixedQuadratic,
    GaussianProcess,
)
INSTALLED = [kind for kind in CHEAP if kind().lacking() is None]


@pytest.fixture(scope="module")
def squad() -> pd.DataFrame:
    return draw_squad("little", "Ricker", seed=1, athletes=4)[1]


@pytest.mark.parametrize("kind", INSTALLED, ids=lambda kind: kind.name)
def test_a_peer_advises_everyone_within_what_was_tried(
    kind: type[Peer], squad: pd.DataFrame
) -> None:
    advice = kind().fit(squad)
    assert list(advice) == ["A01", "A02", "A03", "A04"]
    for code, own in advice.items():
        tried = squad.loc[squad["athlete"] == code, "volume"]
        assert 0 <= own.volume <= 1.3 * squad["volume"].max()
        if own.best_volume is None or own.chances is None:
            assert kind is UsualRule
            assert tried.min() <= own.volume <= tried.max()
            continue
        low, high = own.best_volume
        assert 0 <= low <= high
        assert sum(own.chances) == pytest.approx(1.0)
        assert own.call in (*CALLS, "not known")
        if own.call != "not known":
            assert own.chances[CALLS.index(own.call)] >= 0.8


def test_the_usual_rule_takes_the_middle_of_the_best_run() -> None:
    rows = pd.DataFrame(
        {
            "athlete": "A1",
            "session": ["a"] * 9,
            "kind": "fade",
            "volume": np.arange(9.0),
            "value": [40.0, 41, 42, 43, 43, 43, 42, 40, 39],
        }
    )
    assert UsualRule().fit(rows)["A1"].volume == 4.0
    assert np.isnan(UsualRule().fit(rows.assign(kind="routine"))["A1"].volume)


def test_a_quadratic_in_log_volume_is_recovered() -> None:
    volume = np.arange(40.0)
    value = 40.0 * np.exp(-0.05 * (np.log1p(volume) - np.log(11.0)) ** 2)
    rows = pd.DataFrame({"athlete": "A1", "session": "a", "volume": volume, "value": value})
    advice = OwnQuadratic().fit(rows)["A1"]
    assert advice.volume == pytest.approx(10.0, abs=0.3)
    assert advice.call == "either"


# Shrinkage of one balanced group: n s_b^2 / (n s_b^2 + s^2) (Searle, Casella & McCulloch 1992).
def test_prediction_of_one_group_shrinks_as_the_textbook_says() -> None:
    one = np.ones((5, 1))
    noise = session_noise(np.arange(5).astype(object), 2.0, 0.0)
    gain, covariance = linear_posterior(one, np.array([[3.0]]), noise, np.zeros((1, 1)))
    assert gain.sum() == pytest.approx(15.0 / 17.0)
    assert covariance[0, 0] == pytest.approx(3.0 * 2.0 / 17.0)


def test_the_curve_of_full_bayes_is_a_saturating_rise_less_a_linear_fatigue() -> None:
    volume = np.linspace(0.0, 80.0, 200)
    ours = rise_and_fall.change(volume, np.log(12.0), np.log(0.08), np.log(1.7))
    end = np.interp(-np.log(0.9), -ours[volume >= 12], volume[volume >= 12])
    other = truth("saturating less linear", 12.0, 0.08, end - 12.0)
    np.testing.assert_allclose(ours, other.change(volume), atol=2e-4)


def test_intervals_and_chances_are_counted_over_the_draws() -> None:
    volume = volumes_up_to(40.0)
    assert STANDARD in volume
    peaks = np.repeat([5.0, 15.0, 30.0], [90, 5, 5])
    curves = -0.001 * (volume[:, None] - peaks) ** 2
    advice = advice_from_curves(volume, curves)
    assert advice.chances == pytest.approx((0.90, 0.05, 0.05))
    assert advice.call == "short"
    assert advice.best_volume is not None and advice.best_volume[0] == pytest.approx(5.0, abs=0.2)
    whole = np.arange(41.0)
    expected = np.exp(-0.001 * (whole[:, None] - [5.0, 15.0, 30.0]) ** 2) @ [0.90, 0.05, 0.05]
    assert advice.volume == whole[expected.argmax()]


def test_right_calls_and_best_ranges_follow_from_the_truth() -> None:
    assert best_range(truth("plateau with break", 10.0, 0.07, 20.0)) == pytest.approx(
        (6.0, 14.0), abs=0.02
    )
    assert best_range(truth("Ricker", 10.0, 0.07, 20.0)) == pytest.approx((10.0, 10.0))
    calls = [true_call(truth("Ricker", best, 0.07, 12.0)) for best in (5.0, 14.0, 60.0)]
    assert calls == ["short", "either", "long"]
    flat = truth("no effect", 10.0, 0.07, 20.0)
    assert true_call(flat) == "either"
    said = advice_from_curves(np.array([5.0, 15.0, 30.0]), np.array([[0.0], [0.1], [0.0]]))
    assert np.isnan(scores_of(flat, said)["best"])


def test_squads_of_the_full_bayesian_family_peak_where_they_say() -> None:
    truths, _ = draw_squad("little", OWN_FAMILY, seed=12, athletes=9)
    assert max(each.hold_volume / each.best_volume for each in truths) > 1e4
    for athlete in truths:
        at = np.array([0.0, athlete.best_volume, athlete.best_volume + athlete.hold_volume])
        expected = [-athlete.gain, 0.0, np.log(0.9)]
        np.testing.assert_allclose(athlete.change(at), expected, atol=1e-9)


def test_the_accuracy_report_shows_the_scores() -> None:
    own, squad = accuracy.score_squad("little", "Ricker", seed=1, athletes=4)
    scores = pd.DataFrame(own)
    written = accuracy.report(scores, pd.DataFrame([squad]))
    assert f"{scores['loss_pct'].mean():.3f} ({scores['usual_loss_pct'].mean():.2f})" in written
    for title in ("Targets", "Calls", "Brier score", "Squad numbers"):
        assert title in written


def test_a_library_that_is_not_installed_is_named() -> None:
    class Absent(Peer):
        name = "absent"
        module = "no_such_library"

    line = {
        "peer": "warmcurve",
        "row": "little",
        "shape": "Ricker",
        "seed": 1,
        "athlete": "A01",
        "loss_pct": 0.25,
        "best": 1.0,
        "chance_short": 0.9,
        "call": "short",
        "true_call": "short",
        "seconds": 0.5,
        "peak_mib": 200.0,
        "note": "",
    }
    what = Absent().lacking()
    assert what == "no_such_library"
    other = line | {"peer": "usual rule", "loss_pct": 0.5, "seconds": 2.0}
    written = side_by_side.report(pd.DataFrame([line, other]), {"absent": what})
    assert "Left out: absent, for want of no_such_library." in written
    assert "| warmcurve | 0.250 | - | 1.00 |" in written
    assert "| usual rule | 0.500 | - | 0.50 |" in written
    assert "| 2.000 | 4.00 |" in written


def test_held_out_differences_are_from_known_efforts_only() -> None:
    efforts = pd.DataFrame(
        {
            "athlete": np.repeat(["A1", "A2"], 8),
            "session": np.repeat(["A1", "A2"], 8),
            "day": 0.0,
            "volume": np.tile(np.arange(8.0, 72.0, 8.0), 2),
            "y": np.arange(16.0),
        }
    )
    (split,) = held_out.sets_held_out(efforts, repeats=1)
    assert len(split.known) == 12 and len(split.difference) == 4
    for n, code in enumerate(split.athlete):
        own = split.known[split.known["athlete"] == code]
        held = efforts[(efforts["athlete"] == code) & (efforts["volume"] == split.volume[n])]
        assert split.volume[n] not in own["volume"].to_numpy()
        assert split.difference[n] == pytest.approx(held["y"].iloc[0] - own["y"].mean())


def test_the_best_possible_method_advises_the_peak_that_the_efforts_show() -> None:
    volume = np.arange(0.0, 31.0)
    early, late = (-0.001 * (volume - peak) ** 2 for peak in (5.0, 20.0))
    noise = Noise(effort=0.001, day=0.001)
    rng = np.random.default_rng(1)
    tried = np.array([2, 10, 25, 2, 10, 25])
    value = 41.0 * np.exp(late[tried] + 0.001 * rng.standard_normal(6))
    rows = pd.DataFrame({"session": [1, 1, 1, 2, 2, 2], "volume": tried, "value": value})
    told = weigh(np.array([early, late]), rows, noise)
    assert told.advised == 20.0 and told.counted == pytest.approx(1.0)
    # Efforts at one volume say nothing, so both curves count and the best lies between the peaks.
    same = pd.DataFrame({"session": [1], "volume": [12], "value": [40.0]})
    level = weigh(np.array([early, late]), same, Noise(effort=10.0))
    assert level.counted == pytest.approx(2.0, rel=1e-3) and 5.0 < level.advised < 20.0
