from __future__ import annotations

import pytest

from dashboard.rules.typed_efforts import typed_efforts
from db.errors import BadInput


def typed(values: str, volumes: str = "", fade: bool = True, unit: str = "efforts") -> list[object]:
    efforts = typed_efforts(values, volumes, fade, unit)
    return [(each.effort, each.value, each.volume_before) for each in efforts]


def test_a_fade_test_counts_up_from_zero() -> None:
    assert typed("38.4 39,1\n39") == [(1, 38.4, 0), (2, 39.1, 1), (3, 39.0, 2)]


def test_a_routine_session_counts_up_from_the_volume_before_the_first() -> None:
    assert typed("38.4; 39.1", "15", fade=False) == [(1, 38.4, 15), (2, 39.1, 16)]


def test_every_volume_may_be_typed() -> None:
    assert typed("38.4 39.1", "5 12.5", fade=False) == [(1, 38.4, 5), (2, 39.1, 12.5)]


def test_time_does_not_count_up_by_itself() -> None:
    assert typed("38.4", "6", fade=False, unit="minutes") == [(1, 38.4, 6)]
    with pytest.raises(BadInput, match="2 values and 1 volumes before. Type one volume for each"):
        typed("38.4 39.1", "6", fade=False, unit="minutes")


@pytest.mark.parametrize(
    ("values", "volumes", "fade", "told"),
    [
        ("", "", True, "No values were typed"),
        ("38.4 x 39", "", True, "Number 2 of the values is 'x'. Type plain numbers such as 38.4"),
        ("-38", "", True, "Number 1 of the values is '-38'"),
        ("38.4", "a", True, "Number 1 of the volumes before is 'a'"),
        ("nan", "", True, "is 'nan'"),
        ("1e9", "", True, "is '1e9'"),
        ("38.4 39", "1 2 3", False, "2 values and 3 volumes before.*or only the one before"),
        ("38.4", "", False, "how many efforts were done before the first effort"),
    ],
)
def test_a_number_that_cannot_be_read_is_named(
    values: str, volumes: str, fade: bool, told: str
) -> None:
    with pytest.raises(BadInput, match=told):
        typed(values, volumes, fade)
