"""What athletes have done as a warm-up, before games and in training, and what in fade tests."""

from __future__ import annotations

from datetime import date

import pandas as pd

from db.file.frames import fetch
from db.file.store import Store

BEYOND_THE_MOST = 2.0
"""A warm-up looks mistyped beyond this many times the most otherwise done; a digit too many is. Our
choice."""


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


def far_warm_ups(
    store: Store, measure: str | None = None, batch_id: int | None = None
) -> pd.DataFrame:
    """List the warm-ups that are more than twice as long as all others of the athlete.

    Those before routine sessions, and those recorded of a plan. The standard counts as done; where
    there is neither a standard nor another one, nothing is far.

    Parameters
    ----------
    store : Store
    measure : str, optional
        None is every measure.
    batch_id : int, optional
        Those with efforts of one import only.

    Returns
    -------
    DataFrame
        `session_id` (missing for a plan), `athlete`, `name`, `measure`, `started_at`, `volume`
        (the most in it), `most` (otherwise) and `volume_unit`, newest first.
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
