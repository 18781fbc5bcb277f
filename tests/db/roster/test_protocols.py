from __future__ import annotations

from dataclasses import replace

import pytest

from db.errors import BadInput
from db.roster.measures import get_measure
from db.roster.protocols import Protocol, protocol_of, save_protocol


def test_a_measure_is_done_as_usual_until_somebody_says_otherwise(store):
    jump, sprint = (get_measure(store, code) for code in ("jump_height", "sprint_10m"))
    usual = protocol_of(store, jump)
    assert (usual.effort, usual.arms) == ("maximal countermovement jumps", "hands on hips")
    assert protocol_of(store, sprint).rest_seconds > usual.rest_seconds
    save_protocol(store, jump, Protocol(arms="free", rest_seconds=30.0), "dora")
    assert protocol_of(store, jump) == replace(usual, arms="free", rest_seconds=30.0)
    save_protocol(store, jump, Protocol(), "dora")
    assert protocol_of(store, jump) == usual


@pytest.mark.parametrize("wrong", [Protocol(effort="x" * 81), Protocol(rest_seconds=-1.0)])
def test_a_bad_protocol_is_refused(store, wrong):
    with pytest.raises(BadInput, match="too long|must be 0 to"):
        save_protocol(store, get_measure(store, "jump_height"), wrong, "dora")
