"""Remove a saved game that is off, or was planned by mistake."""

from __future__ import annotations

from functools import partial

import streamlit as st

from dashboard.core import dates
from dashboard.core.numbers import counted
from dashboard.game.words import begins
from dashboard.screen import doing
from dashboard.screen.reads import own_store
from db.people.accounts import Person
from db.plans.game_removal import remove_game
from db.plans.games import Game
from db.plans.kept_games import KeptGame


def show_removal(person: Person, kept: KeptGame | None) -> None:
    """Offer to remove a saved game, saying first what goes and what stays."""
    if kept is None:
        return
    with st.popover("Remove this game"):
        st.write(what_goes(kept.game))
        if st.button("Remove it", key=f"remove_game_{kept.game_id}"):
            doing.do(
                f"The game of {dates.day(kept.game.day)} is removed.",
                partial(remove_game, own_store(), kept, person.person),
            )


def what_goes(game: Game) -> str:
    """Return what removing a game does."""
    many = counted(len(game.players), "athlete")
    return (
        f"{dates.day(game.day)}, {begins(game)}: the sheet, the phone view,"
        f" the calendars and the pages of {many} no longer show it, and tests are no longer kept"
        " away from it. Calendars that somebody has taken already keep it: tell them. What was"
        " planned stays in the history, and what is recorded as done counts."
    )
