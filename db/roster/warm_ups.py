"""What athletes did as a warm-up, before games and in training, and in fade tests."""

from __future__ import annotations

from datetime import date

import pandas as pd

from db.file.frames import fetch
from db.file.store import Store

BEYOND_THE_MOST = 2.0
"""A warm-up more than this many times the athlete's longest other one looks mistyped, as with an
extra digit. Our choice."""


def most_warm_ups(store: Store, measure: str) -> dict[str, float]:
    """Return each athlete's longest warm-up before a routine effort or for a plan, by code."""
    with store.reading() as cursor:
        rows = cursor.execute(
            "SELECT athlete, max(volume) FROM ("
            "SELECT athlete, volume FROM observation WHERE measure = $1 AND kind = 'routine' "
            "UNION ALL SELECT athlete, done_volume FROM plan_in_force "
            "WHERE measure = $1 AND done_volume IS NOT NULL) GROUP BY athlete",
            [measure],
        ).fetchall()
    return {athlete: float(most) for athlete, most in rows}


def far_warm_ups(
    store: Store, measure: str | None = None, batch_id: int | None = None
) -> pd.DataFrame:
    """List the warm-ups that are more than twice as long as all others of the athlete.

    It looks at warm-ups before routine sessions and at those saved for a plan. The standard counts
    as one of the others. Without a standard or another warm-up, there is nothing to compare with.

    Parameters
    ----------
    store : Store
    measure : str, optional
        None is every measure.
    batch_id : int, optional
        Only warm-ups of sessions with efforts from this import.

    Returns
    -------
    DataFrame
        `session_id` (missing for a plan), `athlete`, `name`, `measure`, `started_at`, `volume`
        (the most in it), `most` (of the others) and `volume_unit`, newest first.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "WITH warm_up AS (SELECT session_id, athlete, measure, started_at, max(volume) AS "
            "volume, bool_or(batch_id IS NOT DISTINCT FROM $2) AS of_batch FROM effort_detail "
            "WHERE kind = 'routine' AND excluded IS NULL GROUP BY ALL "
            "UNION ALL SELECT NULL, athlete, measure, day::TIMESTAMP, done_volume, FALSE "
            "FROM plan_in_force WHERE done_volume > 0), "
            "compared AS (SELECT *, max(volume) OVER (PARTITION BY athlete, measure ROWS BETWEEN "
            "UNBOUNDED PRECEDING AND UNBOUNDED FOLLOWING EXCLUDE CURRENT ROW) AS others FROM "
            "warm_up) SELECT session_id, athlete, a.name, measure, started_at, volume, "
            "greatest(others, standard_volume) AS most, volume_unit FROM compared "
            "JOIN measure m USING (measure) JOIN athlete a USING (athlete) WHERE most > 0 "
            "AND volume > $3 * most AND ($1 IS NULL OR measure = $1) "
            "AND ($2 IS NULL OR of_batch) ORDER BY started_at DESC, a.name",
            [measure, batch_id, BEYOND_THE_MOST],
        )


def fade_efforts(store: Store, day: date) -> dict[tuple[str, str], int]:
    """Count the efforts in the fade tests of a day, with spoiled ones, by measure and athlete.

    Routine tests are left out: they follow a planned warm-up, which counts with its length.
    """
    with store.reading() as cursor:
        rows = cursor.execute(
            "SELECT measure, athlete, count(*) FROM effort_detail "
            "WHERE kind = 'fade' AND started_at::DATE = ? GROUP BY ALL",
            [day],
        ).fetchall()
    return {(measure, athlete): int(many) for measure, athlete, many in rows}
