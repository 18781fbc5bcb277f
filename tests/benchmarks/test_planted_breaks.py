"""Faults are planted where they were drawn, and each changes the code of a module."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.benchmarks.planted_breaks import KINDS, broken, chosen

SOURCE = """
def rising(values: list[int] = [0]) -> bool:
    if values[0] < 1:
        return values[1] - values[0] > 0
    return False
"""


@pytest.mark.parametrize(
    ("kind", "changed"),
    [
        ("comparison flipped", "values[0] >= 1"),
        ("number changed", "[1]"),
        ("plus and minus swapped", "values[1] + values[0]"),
        ("answer replaced", "return None"),
        ("condition negated", "not values[0] < 1"),
    ],
)
def test_one_thing_is_changed_and_described(kind: str, changed: str) -> None:
    source, line, told = broken(SOURCE, kind, 0)
    assert changed in source and line in (2, 3, 4)
    assert source != ast.unparse(ast.parse(SOURCE))
    assert "→" in told


def test_the_same_seed_draws_the_same_faults_of_every_kind() -> None:
    faults = chosen("db/imports", 2 * len(KINDS), seed=3)
    assert faults == chosen("db/imports", 2 * len(KINDS), seed=3)
    assert len(set(faults)) == 2 * len(KINDS)
    assert {fault.kind for fault in faults} == set(KINDS)
    assert all(Path(fault.file).parent == Path("db/imports") for fault in faults)
