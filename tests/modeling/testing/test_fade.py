from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from modeling.testing.fade import decrement_pct, fade_is_over, fade_state
from modeling.testing.false_stop import chance_of_false_stop, chance_of_low_effort, own_noise_pct
from modeling.testing.readings import flight_height_m, speed

VALUES = st.lists(st.floats(20, 60), min_size=1, max_size=20)


def test_three_in_a_row_below_ninety_per_cent_of_the_best_so_far():
    values = [40.0, 41.0, 36.0, 36.8, 36.8]
    assert not fade_is_over(values[:-1])
    assert fade_is_over(values)
    state = fade_state(values)
    assert (state.best, state.low_in_a_row) == (41.0, 3)
    assert state.below_best_pct == pytest.approx(100 * (1 - 36.8 / 41))


def test_exactly_ninety_per_cent_is_not_below_and_a_good_one_breaks_the_row():
    assert fade_state([40.0, 36.0]).low_in_a_row == 0
    assert fade_state([40.0, 35.0, 35.0, 37.0, 35.0]).low_in_a_row == 1


def test_times_are_judged_by_their_speed():
    state = fade_state([2.0, 2.21, 2.23, 2.25], higher_is_better=False)
    assert state.best == 2.0
    assert state.low_in_a_row == 2, "2.0 / 2.21 is above 0.9"


def test_without_efforts_nothing_is_over():
    assert fade_state([]) == fade_state([], share=0.8)
    assert fade_state([]).best is None


@given(VALUES, st.floats(0.5, 0.99), st.integers(1, 5))
def test_times_and_speeds_give_the_same_state(values, share, in_a_row):
    speeds = fade_state(values, share=share, in_a_row=in_a_row)
    times = fade_state(
        [1 / value for value in values], share=share, in_a_row=in_a_row, higher_is_better=False
    )
    if not any(math.isclose(v / max(values), share, rel_tol=1e-9) for v in values):
        assert (times.low_in_a_row, times.over) == (speeds.low_in_a_row, speeds.over)


# National and development team, ideal and actual sums of a repeated jump and sprint test:
# Sheppard et al. 2007, IJSPP 2:292-304; the decrements follow by Glaister's formulas.
@pytest.mark.parametrize(
    ("ideal", "actual", "decrement", "higher"),
    [
        (336.88, 329.91, 2.0690, True),
        (330.88, 323.80, 2.1397, True),
        (6.83, 7.14, 4.5388, False),
        (7.41, 7.66, 3.3738, False),
    ],
)
def test_decrement_of_sheppards_teams(ideal, actual, decrement, higher):
    efforts = 6
    best = ideal / efforts
    values = [best, *[(actual - best) / (efforts - 1)] * (efforts - 1)]
    assert decrement_pct(values, higher_is_better=higher) == pytest.approx(decrement, abs=5e-5)


def test_a_decrement_needs_an_effort():
    with pytest.raises(ValueError, match="at least one effort"):
        decrement_pct([])


# g = 9.80665: h = g t^2 / 8 worked out by hand to six digits.
@pytest.mark.parametrize(
    ("seconds", "height"),
    [(0.30, 0.110325), (0.45, 0.248231), (0.50, 0.306458), (0.60, 0.441299), (0.70, 0.600657)],
)
def test_heights_of_flight_times(seconds, height):
    assert flight_height_m(seconds) == pytest.approx(height, abs=5e-7)


def test_the_flight_time_of_forty_centimetres():
    assert flight_height_m(0.571235) == pytest.approx(0.40, abs=1e-6)
    assert speed(10.0, 2.5) == 4.0


# Chance that the last of 10 and of 20 efforts without fatigue is 10 % or more below the best,
# and that some effort is, by within-session CV: 400,000 simulated series, normal noise.
FALSE_DROPS = {
    2: ((10, 0.001, 0.008), (20, 0.002, 0.028)),
    3: ((10, 0.040, 0.279), (20, 0.066, 0.598)),
    4: ((10, 0.153, 0.696), (20, 0.223, 0.948)),
    5: ((10, 0.277, 0.896), (20, 0.377, 0.996)),
}


@pytest.mark.parametrize("noise_pct", FALSE_DROPS)
def test_false_drops_of_ten_per_cent(noise_pct):
    for efforts, last_low, some_low in FALSE_DROPS[noise_pct]:
        assert chance_of_low_effort(noise_pct, efforts) == pytest.approx(last_low, abs=0.0016)
        # The rule only looks back. By symmetry, looking ahead has the same chance, so the chance
        # that some effort is low against the best of all is at most twice as large.
        one = chance_of_false_stop(noise_pct, efforts, in_a_row=1)
        assert one - 0.001 <= some_low <= 2 * one + 0.001


@pytest.mark.parametrize(
    ("noise_pct", "efforts", "share", "in_a_row"), [(5.0, 20, 0.9, 3), (4.0, 12, 0.95, 2)]
)
def test_the_chance_of_a_false_stop_is_how_often_the_rule_fires(
    noise_pct, efforts, share, in_a_row
):
    rng = np.random.default_rng(1)
    series = 1 + noise_pct / 100 * rng.standard_normal((3_000, efforts))
    fired = [
        any(
            fade_is_over(one[:n].tolist(), share=share, in_a_row=in_a_row)
            for n in range(1, efforts + 1)
        )
        for one in series
    ]
    chance = chance_of_false_stop(noise_pct, efforts, share=share, in_a_row=in_a_row)
    assert np.mean(fired) == pytest.approx(chance, abs=3 * np.sqrt(chance * (1 - chance) / 3_000))


def test_a_false_stop_grows_with_noise_and_efforts_and_needs_enough_of_them():
    assert chance_of_false_stop(5, 2) == chance_of_low_effort(5, 1) == 0
    assert chance_of_false_stop(5, 10) < chance_of_false_stop(5, 20) < chance_of_false_stop(8, 20)
    with pytest.raises(ValueError, match="above 0 %"):
        chance_of_false_stop(0, 10)


def test_own_noise_is_the_squads_until_there_is_enough_data():
    rng = np.random.default_rng(2)
    assert own_noise_pct([1.0], 1, 3.0) == 3.0
    few, many = rng.normal(0, 6, 4), rng.normal(0, 6, 2_000)
    assert 2.5 < own_noise_pct(few, 1, 3.0) < own_noise_pct(many, 20, 3.0)
    assert own_noise_pct(many, 20, 3.0) == pytest.approx(6, rel=0.05)


def test_a_slip_does_not_make_an_athlete_noisy():
    residuals = [1.0, -1.0, 1.2, -1.1, 0.9, -1.0, 1.1, -0.9]
    slipped = [*residuals[:-1], -60.0]
    assert own_noise_pct(slipped, 1, 1.5) == pytest.approx(
        own_noise_pct(residuals, 1, 1.5), rel=0.1
    )
