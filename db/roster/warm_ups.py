"""What athletes have done as a warm-up: before games and in training, not in fade tests."""

from __future__ import annotations

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
