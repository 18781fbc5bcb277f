"""The saved games of a day, and which of its two the coach is planning."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import streamlit as st

from dashboard.screen.reads import ask
from db.plans.games import Game
from db.plans.kept_games import KeptGame, kept_games

FIRST, SECOND = "First game", "Second game"


@dataclass(frozen=True)
class DayGames:
    """The saved games of a day, and which one is being planned.

    Attributes
    ----------
    kept : tuple of KeptGame
        All of one day and measure.
    second : bool
        Whether the day's second game is being planned.
    """

    kept: tuple[KeptGame, ...]
    second: bool

    @property
    def own(self) -> KeptGame | None:
        """The newest saved plan of the game that is being planned, if there is one."""
        return self._newest(second=self.second)

    @property
    def games(self) -> list[Game]:
        """The games of the day, as they are saved."""
        return [each.game for each in self.kept]

    @property
    def pattern(self) -> Game | None:
        """The saved game that fills in the form: this one, else the day's other one."""
        found = self.own or self._newest(second=not self.second)
        return None if found is None else found.game

    def _newest(self, second: bool) -> KeptGame | None:
        same = (each for each in self.kept if each.game.course.second_game == second)
        return max(same, key=lambda each: each.game_id, default=None)


def choose_game(measure: str, day: date) -> DayGames:
    """Return the games of a day; once one is saved, ask which one is being planned."""
    kept: Sequence[KeptGame] = ask(kept_games, day, measure)
    if not kept:
        return DayGames((), second=False)
    newest = max(kept, key=lambda each: each.game_id)
    chosen = st.selectbox(
        "Game of the day",
        (FIRST, SECOND),
        int(newest.game.course.second_game),
        key=f"plan_game_of_day_{measure}_{day}",
        help="Two games on one day have a plan each.",
    )
    return DayGames(tuple(kept), second=chosen == SECOND)
