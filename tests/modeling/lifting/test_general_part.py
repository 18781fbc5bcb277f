"""The general part: its order, minutes that add up, and its warnings."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from modeling.errors import ModelError
from modeling.lifting.general_part import JOINTS, PLANES, general_part

ORDER = ["Whole body", "Ankles", "Hips and knees", "Shoulder blades and neck", "Elbows"]


@given(st.floats(0.5, 30.0), st.sets(st.sampled_from(JOINTS)))
def test_minutes_add_up_and_regions_keep_their_order(minutes: float, joints: set[str]) -> None:
    part = general_part(minutes, joints)
    assert sum(step.minutes for step in part.steps) == pytest.approx(minutes)
    names = [step.name for step in part.steps]
    assert names[0] == "Whole body" and names == [name for name in ORDER if name in names]
    assert all(len(step.movements) == len(PLANES) for step in part.steps)
    assert len(names) > 1 or not joints


@pytest.mark.parametrize(
    ("joints", "steps"),
    [
        ({"ankle", "knee", "hip", "spine"}, ORDER[:3]),
        ({"shoulder blade", "shoulder", "elbow"}, [ORDER[0], *ORDER[3:]]),
        ({"spine"}, [ORDER[0], *ORDER[2:4]]),
        (set(JOINTS), ORDER),
    ],
)
def test_regions_are_those_of_the_session(joints: set[str], steps: list[str]) -> None:
    assert [step.name for step in general_part(6, joints).steps] == steps


@pytest.mark.parametrize(
    ("before", "minutes", "stiff", "warned"),
    [
        ("lifting", 4, False, True),
        ("lifting", 5, False, False),
        ("lifting", 10, False, False),
        ("lifting", 12, False, True),
        ("lifting", 12, True, False),
        ("game", 6, False, True),
        ("game", 12, False, False),
        ("game", 16, True, True),
    ],
)
def test_usual_minutes(before: str, minutes: float, stiff: bool, warned: bool) -> None:
    found = general_part(minutes, {"hip"}, stiff, before=before).unusual
    assert bool(found) == warned
    if warned:
        usual = "5 to 7 are usual before lifting" if before == "lifting" else "8 to 15 are usual"
        assert usual in found


@pytest.mark.parametrize(
    ("seconds", "before_power", "warned"),
    [(0, True, False), (59, True, False), (60, True, True), (90, False, False)],
)
def test_long_static_holds_before_power(seconds: float, before_power: bool, warned: bool) -> None:
    """Behm et al. 2016: 60 s and more per muscle cost 4.6 %, less costs 1.1 %."""
    cautions = general_part(6, {"hip"}, False, seconds, before_power).cautions
    assert [("cost 4.6 %" in each and "1.1 %" in each) for each in cautions] == [True] * warned


@pytest.mark.parametrize(
    ("minutes", "joints", "hold", "said"),
    [
        (0, {"hip"}, 0, "more than 0 minutes"),
        (6, {"hip"}, -1, "0 seconds or more"),
        (6, {"wing"}, 0, "There is no joint wing. The joints are ankle, knee"),
    ],
)
def test_an_impossible_general_part_is_refused(
    minutes: float, joints: set[str], hold: float, said: str
) -> None:
    with pytest.raises(ModelError, match=said):
        general_part(minutes, joints, static_hold_s=hold)
