"""Past imports, and the rows that they set aside."""

from __future__ import annotations

import pandas as pd

from db.file.frames import fetch
from db.file.store import Store


def import_batches(store: Store) -> pd.DataFrame:
    """List the imports, newest first.

    Returns
    -------
    DataFrame
        `batch_id`, `file`, `imported_at`, `person`, `rows_read`, `stored`, `known`,
        `set_aside`.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT batch_id, file, imported_at, person, rows_read, stored, known, set_aside "
            "FROM import_batch ORDER BY batch_id DESC",
        )


def set_aside_rows(store: Store, batch_id: int | None = None) -> pd.DataFrame:
    """List rows set aside: by one import, or by each file's last one and not corrected since.

    Returns
    -------
    DataFrame
        `batch_id`, `file`, `line`, `athlete`, `started_at`, `measure`, `effort`, `value`,
        `column`, `reason`, `row_text`, `at`; the cells as written.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT * EXCLUDE (place, cells_json) FROM set_aside_detail WHERE CASE WHEN $1 IS "
            "NULL THEN in_force ELSE batch_id = $1 END ORDER BY batch_id DESC, line, place",
            [batch_id],
        ).drop(columns="in_force")
