"""The benchmark of tests that end when enough is known, on a tiny squad."""

from __future__ import annotations

from dataclasses import replace

from tests.benchmarks.rough_kinds import KINDS
from tests.benchmarks.sparing_tests import MOST_ROUNDS, WAYS, squad_tested


def test_tests_that_end_when_enough_is_known_take_fewer_efforts() -> None:
    squad = replace(KINDS["low noise"].squad, athletes=3)
    kind = replace(KINDS["low noise"], squad=squad)
    full, ended, firm, assigned, proposed = (squad_tested(kind, 1, way) for way in WAYS)
    assert (full["efforts"] > 2 * 5).all(), "two tests of some efforts each"
    assert firm["efforts"].sum() <= ended["efforts"].sum() < full["efforts"].sum()
    assert (assigned["efforts"] <= 3 * MOST_ROUNDS).all()
    assert proposed["efforts"].sum() < full["efforts"].sum()
    for way in (full, ended, firm, assigned, proposed):
        assert (way["loss_pct"] >= 0).all() and len(way) == 3
        assert (way.loc[way["right"] == 1, "called"] == 1).all()
