"""A squad's losses and waves where every curve is known."""

from __future__ import annotations

import numpy as np
import pytest

from modeling.curve.account import Account, Circumstances
from modeling.curve.curve_draws import CurveDraws
from modeling.curve.length import Limits, Needs
from modeling.curve.pairing import ALIKE
from modeling.day.goal_advice import ToFollow
from modeling.game.game_warm_up import Court, own_lengths, warm_ups
from modeling.game.squad_losses import SquadLosses, mean_estimate, squad_losses

KNOTS = np.arange(0.0, 121.0)
STEEPNESS = 1e-4
BESTS = (4.0, 6.0, 20.0, 22.0, 60.0)


def curve(best: float, draws: int = 3, most: float = np.inf) -> CurveDraws:
    change = np.repeat(-STEEPNESS * (KNOTS - best)[:, None] ** 2, draws, axis=1)
    needs, limits = Needs(15.0, "long", best, None), Limits(most_allowed=most)
    return CurveDraws(best, 3, 30, KNOTS, change, Account(), Circumstances(), needs, 1.0, limits)


def losses_of(*bests: float, efforts: int = 1) -> SquadLosses:
    goal = ToFollow("best" if efforts == 1 else "sustained", efforts)
    return squad_losses([curve(best) for best in bests], goal, Circumstances(), [0.0] * len(bests))


def lost(volume: float, best: float) -> float:
    return -100 * np.expm1(-STEEPNESS * (volume - best) ** 2)


def test_losses_match_the_curves_at_any_length_and_rest() -> None:
    losses = losses_of(*BESTS)
    found = losses.pct([0.0, 20.0], 0.0)
    expected = [[lost(0.0, best), lost(20.0, best)] for best in BESTS]
    assert found == pytest.approx(np.array(expected), abs=0.01)
    # After one half-life half of the volume is in effect; nobody is warmer than at the peak.
    assert losses.pct([10.0], 21.0)[2, 0] == pytest.approx(lost(5.0, 20.0), abs=0.01)
    assert losses.pct([20.0], 21.0)[2, 0] == pytest.approx(lost(10.0, 20.0), abs=0.01)
    drawn = losses.drawn(np.array(BESTS)[:, None] + 10, 0.0)
    assert drawn == pytest.approx(np.full((5, 3), lost(10.0, 0.0)))
    assert (losses.lost(np.array(BESTS)[:, None] + 10, 0.0) == drawn).all()


def test_losses_over_efforts_to_follow_are_their_mean() -> None:
    losses = losses_of(20.0, efforts=5)
    expected = np.mean([lost(10.0 + ahead, 20.0) for ahead in range(5)])
    assert losses.pct([10.0], 0.0)[0, 0] == pytest.approx(expected, abs=0.01)
    assert losses.drawn([[10.0]], 0.0)[0] == pytest.approx(expected)
    # It is best to begin five efforts two before the peak, and nothing is lost there.
    assert losses.lost([[18.0]], 0.0)[0] == pytest.approx(0.0, abs=1e-9)


def test_a_longer_general_part_leaves_less_to_do() -> None:
    slow = squad_losses([curve(20.0)] * 2, ToFollow(), Circumstances(), [0.0, 10.0])
    lengths = slow.lengths(0.0)
    assert lengths[slow.pct(lengths, 0.0).argmin(axis=1)].tolist() == [20.0, 17.0]


def test_waves_group_athletes_who_need_about_the_same() -> None:
    found = warm_ups(losses_of(*BESTS), Court(6.0, 0.0, staff=3), np.array(BESTS))
    three = found[2]
    assert three.volumes.tolist() == [60.0, 21.0, 5.0]
    assert three.wave.tolist() == [2, 2, 1, 1, 0]
    assert [turn.ready for turn in three.turns] == [0.0, 0.0, 0.0]
    assert three.cost_pct is not None
    assert three.cost_pct.median == pytest.approx(0.8 * lost(1.0, 0.0), abs=0.002)
    assert len(found) == 5


def test_a_wave_that_has_to_wait_for_staff_pays_for_it() -> None:
    alone, together = (
        warm_ups(losses_of(*BESTS), Court(6.0, 0.0, staff=staff), np.array(BESTS))[2]
        for staff in (1, 3)
    )
    assert sorted(turn.ready for turn in alone.turns)[1] > 0.0
    assert alone.cost_pct is not None and together.cost_pct is not None
    assert alone.cost_pct.median > together.cost_pct.median
    begins = [turn.begins for turn in alone.turns]
    assert begins == sorted(begins, reverse=True)


def test_the_coach_s_length_is_done_and_does_not_move_the_waves() -> None:
    found = warm_ups(losses_of(*BESTS), Court(6.0, 0.0, staff=3), np.array(BESTS), {4: 9.0})[1]
    assert found.volumes.tolist() == [21.0, 5.0]
    assert found.length.tolist() == [5.0, 5.0, 21.0, 21.0, 9.0]
    assert found.wave[4] == 1
    alone = warm_ups(losses_of(20.0), Court(6.0, 0.0), np.array([20.0]), {0: 33.0})[0]
    assert (alone.volumes.tolist(), alone.length.tolist(), alone.cost_pct) == ([33.0], [33.0], None)


def test_everybody_does_their_own_length_and_all_are_ready_together() -> None:
    own = np.array([15.0, 4.0, 15.0, 25.0])
    found = own_lengths(own, Court(6.0, 5.0, minutes_per_effort=0.5), {1: 8.0})
    assert found.length.tolist() == [15.0, 8.0, 15.0, 25.0]
    assert (found.volumes.tolist(), found.wave.tolist()) == ([15.0], [0, 0, 0, 0])
    [turn] = found.turns
    assert (turn.ready, turn.begins, found.cost_pct) == (5.0, 5.0 + 12.5 + 6.0, None)


def test_no_wave_takes_anybody_over_their_limit() -> None:
    """A limit caps the lengths of waves, and the athlete with the lowest limit stops first."""
    curves = [curve(89.0, most=25.0), curve(89.0, most=18.0), curve(20.0, most=25.0)]
    losses = squad_losses(curves, ToFollow(), Circumstances(rest_minutes=30.0), [0.0] * 3)
    for found in warm_ups(losses, Court(6.0, 30.0, staff=1), np.array([25.0, 18.0, 20.0])):
        assert found.volumes.max() <= 25.0 and found.length[1] <= 18.0


def test_nobody_gains_by_leaving_the_standard_without_a_call() -> None:
    """The first athlete's curve peaks at 8, but nobody knows; a wave at 8 is not for them."""
    losses = losses_of(8.0, 8.0, 30.0)
    two = warm_ups(losses, Court(6.0, 0.0, staff=3), np.array([15.0, 8.0, 15.0]))[1]
    assert two.length.tolist() == [15.0, 8.0, 15.0]


def test_a_mean_over_athletes_is_surer_than_each_athlete() -> None:
    """The mean of n values with correlation r has (1 - r) / n + r times the variance of one."""
    drawn = np.tile(np.linspace(-1.0, 1.0, 2001), (16, 1))
    found = mean_estimate(drawn)
    assert found.median == pytest.approx(0.0, abs=0.05)
    # If normal scores correlate by 0.1, their ranks correlate by 6 / pi asin(0.05). A uniform
    # distribution over a width of 2 has variance 1/3; take 1.645 standard deviations each side.
    alike = 6 / np.pi * np.arcsin(ALIKE / 2)
    sd = np.sqrt(((1 - alike) / 16 + alike) / 3)
    assert found.high - found.low == pytest.approx(2 * 1.645 * sd, rel=0.1)
