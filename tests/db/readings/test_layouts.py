"""Sixty files as people bring them: those that the reading was built with."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from db.file.store import Store
from tests.benchmarks.any_file import RIGHT, read_layout, squad_store
from tests.layouts.every import BUILT_WITH, EVERY, HELD_OUT
from tests.layouts.layout import Layout


@pytest.fixture(scope="module")
def squad(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    yield squad_store(tmp_path_factory.mktemp("squad") / "squad.duckdb")


@pytest.mark.parametrize("layout", BUILT_WITH, ids=lambda layout: layout.name)
def test_a_layout_is_read_right_without_a_correction(squad: Store, layout: Layout) -> None:
    outcome = read_layout(squad, layout)
    assert outcome.how == RIGHT, outcome.why


def test_there_are_sixty() -> None:
    assert len({layout.name for layout in EVERY}) == 60
    assert len(HELD_OUT) == 15
