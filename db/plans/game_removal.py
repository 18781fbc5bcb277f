"""Remove games that are off or were planned by mistake, by a newer plan with nobody in it."""

from __future__ import annotations

from db.errors import BadInput
from db.file.store import Store
from db.plans.games import lapse
from db.plans.kept_games import KeptGame

__all__ = ["remove_game"]


def remove_game(store: Store, kept: KeptGame, person: str) -> int:
    """Remove a game and return the number of the plan that does so; its older plans stay.

    Everybody in the game is away in the new plan. The lengths set for it lapse, except those of a
    trial and those with a record of what was done.

    Raises
    ------
    BadInput
        If this plan of the game is no longer in force.
    """
    day, measure = kept.game.day, kept.game.measure
    with store.writing(person, "remove game", f"{day} {measure}") as cursor:
        rows = cursor.execute(
            "SELECT DISTINCT athlete FROM game_in_force WHERE game_id = ?", [kept.game_id]
        ).fetchall()
        if not rows:
            raise BadInput("This game was changed or removed since. Load the page again.")
        here = [athlete for (athlete,) in rows]
        (number,) = cursor.execute(
            "INSERT INTO game BY NAME SELECT * EXCLUDE (game_id, saved_at) REPLACE (? AS person) "
            "FROM game WHERE game_id = ? RETURNING game_id",
            [person, kept.game_id],
        ).fetchall()[0]
        cursor.execute(
            "INSERT INTO game_course BY NAME SELECT * REPLACE (? AS game_id) FROM game_course "
            "WHERE game_id = ?",
            [number, kept.game_id],
        )
        cursor.execute(
            "INSERT INTO game_athlete (game_id, athlete, role) "
            "SELECT ?, unnest(?::VARCHAR[]), 'away'",
            [number, here],
        )
        lapse(cursor, kept.game, here)
        return int(number)
