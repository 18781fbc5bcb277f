"""Ramp sets and the plates that make them, against brute force and what must always hold."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from modeling.errors import ModelError
from modeling.lifting.barbell import AS_MANY, Barbell
from modeling.lifting.ramp_sets import LEFT_OUT, ramp_sets
from modeling.lifting.working_sets import working_loads

KG = Barbell(20.0, tuple((plate, AS_MANY) for plate in (25, 20, 15, 10, 5, 2.5, 1.25)))
LB = Barbell(45.0, tuple((plate, AS_MANY) for plate in (45, 35, 25, 10, 5, 2.5)))


@pytest.mark.parametrize(
    ("barbell", "wanted", "made", "each_side"),
    [
        (KG, 100.0, 100.0, (25, 15)),
        (KG, 101.0, 100.0, (25, 15)),
        (KG, 101.25, 100.0, (25, 15)),
        (KG, 102.0, 102.5, (25, 15, 1.25)),
        (KG, 20.0, 20.0, ()),
        (LB, 225.0, 225.0, (45, 45)),
        (LB, 318.0, 320.0, (45, 45, 45, 2.5)),
    ],
)
def test_plates_of_known_loads(
    barbell: Barbell, wanted: float, made: float, each_side: tuple[float, ...]
) -> None:
    found = barbell.nearest(wanted)
    assert (found.load, found.each_side) == (made, each_side)


few_plates = st.lists(
    st.tuples(st.sampled_from([0.5, 1.25, 2.5, 5.0, 10.0, 15.0, 20.0]), st.integers(1, 3)),
    min_size=1,
    max_size=4,
    unique_by=lambda pair: pair[0],
)


@settings(max_examples=60, deadline=None)
@given(few_plates, st.floats(20.0, 150.0))
def test_no_other_plates_come_nearer(pairs: list[tuple[float, int]], wanted: float) -> None:
    barbell = Barbell(20.0, tuple(pairs))
    sides = {
        sum(number * plate for number, (plate, _) in zip(numbers, pairs, strict=True))
        for numbers in product(*(range(count + 1) for _, count in pairs))
    }
    loads = [20.0 + 2 * side for side in sides]
    if wanted > max(loads) + 2 * min(plate for plate, _ in pairs):
        with pytest.raises(ModelError, match="needs more plates"):
            barbell.nearest(wanted)
        return
    found, handy = barbell.nearest(wanted), barbell.handiest(wanted, 3.0)
    assert abs(found.load - wanted) <= min(abs(load - wanted) for load in loads) + 1e-9
    fewest = {
        20.0 + 2 * sum(n * plate for n, (plate, _) in zip(numbers, pairs, strict=True)): sum(
            numbers
        )
        for numbers in sorted(product(*(range(c + 1) for _, c in pairs)), key=sum, reverse=True)
    }
    near = [count for load, count in fewest.items() if abs(load - wanted) <= 3.0]
    assert len(handy.each_side) == min(near) if near else handy == found
    for made in (found, handy):
        assert made.load == pytest.approx(20.0 + 2 * sum(made.each_side))
        assert all(made.each_side.count(plate) <= count for plate, count in pairs)
        assert list(made.each_side) == sorted(made.each_side, reverse=True)


@pytest.mark.parametrize(
    ("bar", "pairs", "said"),
    [
        (-1.0, ((20.0, 2),), "A bar weighs 0 to 1000. Got -1"),
        (20.0, ((0.0, 2),), "A plate weighs more than 0"),
        (20.0, ((1.005, 2),), "in steps of 0.01. Got 1.005"),
        (20.0, ((20.0, 0),), "1 pair or more of a plate"),
        (20.0, tuple((float(kg), 1) for kg in range(1, 12)), "At most 10 weights of plates"),
    ],
)
def test_impossible_bars_and_plates_are_refused(
    bar: float, pairs: tuple[tuple[float, int], ...], said: str
) -> None:
    with pytest.raises(ModelError, match=said):
        Barbell(bar, pairs)


def test_a_load_below_the_bar_is_refused() -> None:
    with pytest.raises(ModelError, match="The bar alone weighs 20; a load of 15"):
        KG.nearest(15.0)


def test_a_heavy_squat_from_the_bar_to_a_last_single() -> None:
    found = ramp_sets(120.0, 5, maximum=130.0, barbell=KG)
    assert [(each.load, each.repetitions) for each in found] == [
        (20.0, 5),
        (50.0, 5),
        (70.0, 3),
        (90.0, 2),
        (110.0, 1),
        (115.0, 1),
    ]
    assert [each.each_side for each in found[3:]] == [(25, 10), (25, 20), (25, 20, 2.5)]


@settings(max_examples=80, deadline=None)
@given(
    st.floats(20.0, 250.0),
    st.integers(1, 12),
    st.none() | st.floats(1.0, 2.0),
    st.booleans(),
    st.sampled_from(sorted(LEFT_OUT)),
)
def test_a_ramp_rises_below_the_work(
    load: float, repetitions: int, times: float | None, on_bar: bool, how: str
) -> None:
    maximum = None if times is None else times * load
    found = ramp_sets(load, repetitions, maximum, KG if on_bar else None, how)
    loads = [each.load for each in found]
    assert loads == sorted(set(loads))
    assert all(0 < each < (KG.nearest(load).load if on_bar else load) for each in loads)
    numbers = [each.repetitions for each in found]
    assert numbers == sorted(numbers, reverse=True)
    assert all(1 <= number <= min(5, repetitions) for number in numbers)
    if on_bar:
        assert all(each.load == pytest.approx(20 + 2 * sum(each.each_side)) for each in found)
    assert len(found) <= len(ramp_sets(load, repetitions, maximum, KG if on_bar else None))


def test_how_much_of_a_ramp() -> None:
    lengths = {how: len(ramp_sets(100.0, 5, barbell=KG, how=how)) for how in LEFT_OUT}
    assert lengths == {"full": 5, "short": 3, "practice": 4, "some": 2, "none": 0}
    practice = ramp_sets(100.0, 5, maximum=120.0, barbell=KG, how="practice")
    assert max(each.load for each in practice) == 75.0
    heavy = ramp_sets(170.0, 3, maximum=200.0, barbell=KG, how="short")
    assert [each.load / 200.0 for each in heavy] == pytest.approx([0.5, 0.65, 0.75], abs=0.03)


def test_a_single_on_the_way_is_no_working_set() -> None:
    """74 % of the maximum before work at 84 % leads up to it."""
    counting = working_loads("strength", "squat", 100.0, 84.0)
    assert counting is not None and counting.most is None
    assert not counting.hold(74.0) and not counting.hold(76.0)
    assert counting.hold(80.0) and counting.hold(84.0)


def test_working_loads_depend_on_the_purpose() -> None:
    light = working_loads("strength", "squat", 100.0, 60.0)
    assert light is not None and not light.hold(60.0)
    power = working_loads("power", "jump", 100.0, 40.0)
    assert power is not None and (power.least, power.most) == (30.0, 60.0)
    assert power.hold(40.0) and not power.hold(75.0)
    assert working_loads("power", "weightlifting", 100.0, 80.0) is None
    assert working_loads("growth", "squat", 100.0, 60.0) is None


@pytest.mark.parametrize(
    ("load", "repetitions", "maximum", "how", "said"),
    [
        (0.0, 5, None, "full", "must be above 0"),
        (100.0, 0, None, "full", "1 repetition or more"),
        (100.0, 5, 90.0, "full", "is above the one-repetition maximum of 90"),
        (100.0, 5, None, "long", "one of full, short, practice, some, none. Got long"),
    ],
)
def test_an_impossible_ramp_is_refused(
    load: float, repetitions: int, maximum: float | None, how: str, said: str
) -> None:
    with pytest.raises(ModelError, match=said):
        ramp_sets(load, repetitions, maximum, how=how)
