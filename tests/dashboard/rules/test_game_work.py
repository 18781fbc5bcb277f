"""The opening work of a game: usual for the kind of effort, or as a director has set it."""

from __future__ import annotations

import pytest

from dashboard.rules.game_work import WORK_OF, GameWork, game_work, set_game_work, work_words
from db.errors import BadInput
from db.file.store import Store
from db.roster.measures import get_measure


def test_a_game_asks_for_several_efforts_with_recovery_between(shown_store: Store) -> None:
    measure = get_measure(shown_store, "jump_height")
    usual = game_work(shown_store, measure)
    assert usual == WORK_OF["jump"] and usual.efforts > 1 and usual.recovery_seconds > 0
    assert work_words(usual).replace("\u00a0", " ") == "10 efforts, 60 s between two"


def test_a_director_sets_the_work_of_a_measure(filled_store: Store) -> None:
    measure = get_measure(filled_store, "jump_height")
    for wrong in (GameWork(0, 60.0), GameWork(5, -1.0), GameWork(5, 4000.0)):
        with pytest.raises(BadInput, match="must be"):
            set_game_work(filled_store, measure, wrong, "dora")
    set_game_work(filled_store, measure, GameWork(4, 45.5), "dora")
    assert game_work(filled_store, measure) == GameWork(4, 45.5)
