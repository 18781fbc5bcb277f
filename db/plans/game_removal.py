"""Games that are off, or were planned by mistake: taken out by a newer plan without anybody."""

from __future__ import annotations

from db.errors import BadInput
from db.file.store import Store
from db.plans.games import lapse
from db.plans.kept_games import KeptGame

__all__ = ["remove_game"]


def remove_game(store: Store, kept: KeptGame, person: str) -> int:
    """Take a game out and give the number of the plan that does; older plans of it are kept.

    Everybody in it is away in the new plan, and the lengths set for it hold no more, but for those
    of which it is recorded what was done.

    Raises
    ------
    BadInput
        If this plan of the game does not hold any more.
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
