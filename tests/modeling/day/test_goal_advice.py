"""Advice for a goal, bench times and demands, against closed forms and brute force."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from modeling import ModelError, ResponseModel
from modeling.curve.account import CONSTANTS, Account, Circumstances
from modeling.curve.curve_draws import CurveDraws
from modeling.curve.length import Limits, Needs
from modeling.day.bench_time import bench_times
from modeling.day.demand import fade_against_demand
from modeling.day.goal_advice import ToFollow, advise, asked_for, length_of
from modeling.testing.simulation import Noise, Protocol, simulate_squad, simulated_truths

BEST, STEEPNESS = 20.0, 1e-4


def parabola(volume: np.ndarray) -> np.ndarray:
    return -STEEPNESS * (volume - BEST) ** 2


def known(
    curve: Callable[[np.ndarray], np.ndarray] = parabola, account: Account | None = None
) -> CurveDraws:
    """Return an athlete whose curve is known: a parabola, or a line."""
    volume = np.arange(0.0, 121.0)
    return CurveDraws(
        athlete="A1",
        sessions=3,
        efforts=30,
        volume=volume,
        change=np.repeat(curve(volume)[:, None], 5, axis=1),
        account=account or Account(),
        usual=Circumstances(),
        needs=Needs(15.0, "long", BEST, (10.0, 30.0)),
        worthwhile_pct=1.0,
    )


def test_one_best_effort_begins_at_the_peak() -> None:
    assert asked_for(known()) == BEST


@pytest.mark.parametrize("efforts", [3, 9, 21])
def test_a_parabola_is_centred_on_its_peak(efforts: int) -> None:
    """The mean of a parabola over N steps is highest when the steps are centred on the peak."""
    found = asked_for(known(), ToFollow("sustained", efforts))
    assert found == BEST - (efforts - 1) / 2


def test_long_work_shortens_the_warm_up_to_none() -> None:
    assert asked_for(known(), ToFollow("growth", 60)) == 0.0


def test_a_price_shortens_the_length_by_its_share_of_the_steepness() -> None:
    """d/dv of -100 s (v - b)^2 equals the price per effort p at v = b - p / (200 s)."""
    price = 0.08
    paid = ToFollow("sustained", 1, price_pct_per_minute=price, minutes_per_effort=0.5)
    expected = BEST - 0.5 * price / (200.0 * STEEPNESS)
    assert asked_for(known(), paid) == pytest.approx(expected, abs=0.5)


def test_no_price_takes_a_best_effort_below_the_worthwhile_band() -> None:
    dear = ToFollow("best", 1, price_pct_per_minute=50.0)
    # 1 % below the peak of the parabola is sqrt(-log(0.99) / s) away; whole efforts.
    shortest = np.ceil(BEST - np.sqrt(-np.log(0.99) / STEEPNESS))
    assert asked_for(known(), dear) == shortest


def test_a_length_follows_the_call_and_its_limits_and_says_what_that_loses() -> None:
    late = replace(known(), limits=Limits(most_done=10.0))
    found = advise(late)
    assert (found.volume, found.length.wanted, found.length.limited_by) == (12.0, 20.0, "most done")
    assert found.lost_pct.median == pytest.approx(-100 * np.expm1(-STEEPNESS * 64))
    assert found.lost_pct == late.lost_pct(12.0)
    assert advise(known(), limit=7.5).volume == 7.0
    unknown = replace(known(), needs=Needs(15.0, "not known", BEST, None))
    assert [length_of(unknown, goal).volume for goal in (None, ToFollow("growth", 60))] == [15, 15]


def test_other_work_changes_a_length_only_where_it_loses_more_than_is_worthwhile() -> None:
    # Starting 4 too late on a parabola loses 100 s 16 = 0.16 %. For 31 efforts the best start is 5,
    # and the standard of 15 is nearer to that by 100 s (15^2 - 10^2) = 1.25 %.
    assert length_of(known(), ToFollow("sustained", 9)).volume == BEST
    assert length_of(known(), ToFollow("sustained", 31)).volume == 15.0
    wide = replace(known(), worthwhile_pct=1.3)
    assert length_of(wide, ToFollow("sustained", 31)).volume == BEST


def test_other_lengths_lose_what_the_curve_says() -> None:
    found = advise(known())
    losses = {other.name: (other.volume, other.lost_pct.median) for other in found.alternatives}
    assert losses["standard"] == (15.0, pytest.approx(-100 * np.expm1(-STEEPNESS * 25)))
    assert losses["none"] == (0.0, pytest.approx(-100 * np.expm1(-STEEPNESS * 400)))
    # A quarter less is the standard, which is listed already.
    assert "a quarter less" not in losses and losses["a quarter more"][0] == 25.0


def test_a_re_warm_up_stays_under_the_limits_with_the_warm_up() -> None:
    late = replace(known(), limits=Limits(most_allowed=22.0), worthwhile_pct=0.1)
    assert max(row.volume for row in bench_times(late, 20.0)) == 2.0
    free = replace(late, limits=Limits())
    assert max(row.volume for row in bench_times(free, 20.0)) > 2.0


def test_cold_asks_for_more_a_general_part_for_less_and_rest_for_no_more() -> None:
    account = Account(0.5, 15.0, 0.01, 0.0)
    model = known(account=account)
    assert asked_for(model, around=Circumstances(general_minutes=10.0)) == 15.0
    # Doing more before a wait only tires (`two_clocks`); ties of 0.005 % go to the shorter.
    rested = asked_for(model, around=Circumstances(rest_minutes=15.0))
    assert rested == pytest.approx(BEST, abs=1.0)
    assert asked_for(model, around=Circumstances(ambient_c=5.0)) == pytest.approx(
        BEST * np.exp(0.15), abs=0.6
    )


def test_impossible_goals_are_refused() -> None:
    with pytest.raises(ModelError, match="one of best, sustained, growth"):
        ToFollow("strength")
    with pytest.raises(ModelError, match="At least 1 effort"):
        ToFollow("best", 0)


def test_advice_matches_a_search_over_all_volumes() -> None:
    rng = np.random.default_rng(4)
    frame = simulate_squad(simulated_truths("Ricker", 6, rng), Protocol(), Noise(), rng)
    model = ResponseModel(standard_volume=15).fit(frame, frame["value"])
    for athlete in model.responses_:
        for goal, efforts in [("best", 1), ("sustained", 25)]:
            curve = model.draws(athlete)
            found = asked_for(curve, ToFollow(goal, efforts))
            means = []
            for start in np.arange(0.0, 150.0):
                reached = curve.at(start + np.arange(efforts))
                means.append(100.0 * np.expm1(reached).mean())
            assert means[int(found)] == pytest.approx(max(means), abs=0.01)


def test_the_mean_over_work_is_the_mean_of_its_efforts() -> None:
    """The mean is interpolated linearly between lattice efforts, so a parabola is slightly off."""
    curve = known()
    start, step = np.array([0.0, 3.1, 17.77, 119.0]), 0.83
    each = 100 * np.expm1(curve.at(start[:, None] + step * np.arange(40)))
    assert curve.mean_pct(start, 40, step) == pytest.approx(each.mean(axis=1), abs=2e-3)


def test_a_bench_costs_what_the_half_life_takes() -> None:
    line = known(curve=lambda v: -0.08 * np.clip(1 - v / BEST, 0, None), account=Account())
    table = {row.rest_minutes: row for row in bench_times(line, BEST)}
    half = bench_times(line, BEST, minutes=(21.0,))[0]
    assert half.cost_pct.median == pytest.approx(100 * (1 - np.exp(-0.04)), abs=0.01)
    costs = [row.cost_pct.median for row in table.values()]
    assert costs == sorted(costs) and costs[-1] < 8.0
    # Back within 1 % of the peak: -0.08 (1 - v / 20) = log(0.99), whole efforts.
    needed = BEST * (1 + np.log(0.99) / 0.08) - BEST * 2 ** (-40 / 21)
    assert table[40.0].volume == np.ceil(needed)


def test_nine_idle_minutes_cost_part_of_what_was_measured() -> None:
    """Kapnia et al. 2022 measured 3.8 (SD 0.6) % of jump height after 9 minutes.

    With a gain of 8.6 % (Silva et al. 2018) reached in a straight line, cooling at the default
    explains over half of that, and at the quick end of its range nearly all.
    """
    costs = {}
    for half_life in (CONSTANTS[1].default, CONSTANTS[1].low):
        line = known(
            curve=lambda v: np.log1p(-0.086 / 1.086 * np.clip(1 - v / BEST, 0, None)),
            account=Account(half_life_minutes=half_life),
        )
        costs[half_life] = bench_times(line, BEST, minutes=(9.0,))[0].cost_pct.median
    assert 1.9 < costs[21.0] < 3.8
    assert 3.8 - 0.6 - 0.1 < costs[12.0] < 3.8 + 0.6


def test_demand_is_read_off_the_curve() -> None:
    found = fade_against_demand(known(), 60, done=10.0)
    # 10 % down on the far side: s (v - 20)^2 = -log(0.9), v = 10 + effort - 1.
    lost = BEST + np.sqrt(-np.log(0.9) / STEEPNESS) - 10.0 + 1.0
    assert found.lost_at.median == np.ceil(lost)
    assert (found.chance_lost, found.shortfall) == (1.0, 61 - int(np.ceil(lost)))
    assert found.change_pct[10] == pytest.approx(0.0)
    assert len(found.effort) == 60


def test_recovery_between_efforts_is_part_of_the_demand() -> None:
    curve = known()
    half = 60.0 * curve.account.half_life_minutes
    # With a half-life between efforts, n on top of `done` count for done/2^n + 1/2 + 1/4 + ...
    found = fade_against_demand(curve, 4, done=8.0, recovery_seconds=half)
    start = curve.account.volume_in_effect(np.array([8.0]), curve.usual)[0]
    one = curve.account.stretch(curve.usual)
    counted = [start / 2**n + one * (1 - 0.5**n) for n in range(4)]
    expected = 100.0 * np.expm1(curve.at(np.array(counted))).mean(axis=1)
    np.testing.assert_allclose(found.change_pct, expected)
    assert fade_against_demand(curve, 60, 10.0, recovery_seconds=300.0).chance_lost == 0.0


def test_nothing_is_lost_on_the_way_up() -> None:
    steep = known(curve=lambda v: -0.3 * np.clip(1 - v / BEST, 0, None))
    found = fade_against_demand(steep, 30, done=0.0)
    assert (found.chance_lost, found.lost_at.median, found.shortfall) == (0.0, 31.0, 0)
