"""Sixty files as people bring them: those that the reading was built with, and those held out."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from db.file.store import Store
from tests.benchmarks.any_file import RIGHT, WRONG, read_layout, squad_store
from tests.layouts.every import BUILT_WITH, EVERY, HELD_OUT
from tests.layouts.generated import generated
from tests.layouts.layout import Layout


@pytest.fixture(scope="module")
def squad(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    yield squad_store(tmp_path_factory.mktemp("squad") / "squad.duckdb")


@pytest.mark.parametrize("layout", BUILT_WITH, ids=lambda layout: layout.name)
def test_a_layout_is_read_right_without_a_correction(squad: Store, layout: Layout) -> None:
    outcome = read_layout(squad, layout)
    assert outcome.how == RIGHT, outcome.why


@pytest.mark.parametrize("layout", HELD_OUT, ids=lambda layout: layout.name)
def test_a_layout_that_was_held_out_is_read_right(squad: Store, layout: Layout) -> None:
    outcome = read_layout(squad, layout)
    assert outcome.how == RIGHT, outcome.why


@pytest.mark.parametrize("number", range(12))
def test_a_random_file_is_not_silently_read_wrongly(squad: Store, number: int) -> None:
    outcome = read_layout(squad, generated(number))
    assert outcome.how != WRONG, outcome.why


def test_there_are_sixty_layouts() -> None:
    assert len({layout.name for layout in EVERY}) == 60
    assert len(HELD_OUT) == 15
