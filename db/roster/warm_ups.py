"""What athletes have done as a warm-up, before games and in training, and what in fade tests."""

from __future__ import annotations

from datetime import date

from db.file.store import Store


def most_warm_ups(store: Store, measure: str) -> dict[str, float]:
    """Give the most that each athlete has done before a routine effort or for a plan, by code."""
    with store.reading() as cursor:
        rows = cursor.execute(
            "SELECT athlete, max(volume) FROM ("
            "SELECT athlete, volume FROM observation WHERE measure = $1 AND kind = 'routine' "
            "UNION ALL SELECT athlete, done_volume FROM plan_in_force "
            "WHERE measure = $1 AND done_volume IS NOT NULL) GROUP BY athlete",
            [measure],
        ).fetchall()
    return {athlete: float(most) for athlete, most in rows}


def fade_efforts(store: Store, day: date) -> dict[tuple[str, str], int]:
    """Count what was done in the fade tests of a day, spoiled efforts too: by measure and athlete.

    A routine test measures what a warm-up is planned for, and counts with its length.
    """
    with store.reading() as cursor:
        rows = cursor.execute(
            "SELECT measure, athlete, count(*) FROM effort_detail "
            "WHERE kind = 'fade' AND started_at::DATE = ? GROUP BY ALL",
            [day],
        ).fetchall()
    return {(measure, athlete): int(many) for measure, athlete, many in rows}
