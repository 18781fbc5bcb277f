"""Correct rows that were set aside, and import just those."""

from __future__ import annotations

import hashlib
import json
from types import MappingProxyType

import duckdb
import pandas as pd

from db.errors import BadInput
from db.file.frames import fetch, insert
from db.file.store import Store
from db.imports.effort_files import COLUMNS, RawTable
from db.imports.parsed_rows import parse_rows
from db.imports.row_checks import AS_WRITTEN, sort_rows
from db.imports.storing import ImportReport, keep_rows
from db.tables.written_numbers import KEYED_IN

__all__ = ["KEY", "correctable_rows", "store_corrected"]

KEY = ["batch_id", "line", "place"]


def correctable_rows(store: Store) -> pd.DataFrame:
    """List the rows that are set aside now, with each cell in its column.

    Returns
    -------
    DataFrame
        `batch_id`, `file`, `line`, `place`, `at_fault` (the column), `reason`, and every column
        of the efforts format as text; an empty cell is an empty text.
    """
    with store.reading() as cursor:
        return _in_force(cursor)


def store_corrected(
    store: Store, rows: pd.DataFrame, person: str, add_athletes: bool = False
) -> list[ImportReport]:
    """Check corrected rows as an import would, and store them; one import for each file.

    Rows that are still wrong are set aside again, with their lines. The import that first set
    a row aside keeps its counts.

    Parameters
    ----------
    store : Store
        Where to store them.
    rows : DataFrame
        Rows from `correctable_rows`, with the cells corrected.
    person : str
        Who corrected them.
    add_athletes : bool
        Whether unknown athletes are added.

    Raises
    ------
    BadInput
        If there are no rows, or one of them is not set aside any more.
    """
    if rows.empty:
        raise BadInput("No row was chosen. Correct a cell, or tick a row, and store then.")
    reports = []
    with store.writing(person, "import efforts", f"{len(rows)} corrected rows") as cursor:
        there = pd.MultiIndex.from_frame(_in_force(cursor)[KEY])
        if not pd.MultiIndex.from_frame(rows[KEY]).isin(there).all():
            raise BadInput(
                "Some of these rows were corrected or imported again since the page was opened. "
                "Load the page again. Nothing was stored."
            )
        for _, of_file in rows.sort_values(KEY).groupby("batch_id", sort=True):
            table = _as_table(of_file)
            check = sort_rows(cursor, parse_rows(table), add_athletes)
            report = keep_rows(cursor, table, person, check)
            insert(
                cursor, "set_aside_correction", of_file[KEY].assign(corrected_in=report.batch_id)
            )
            reports.append(report)
    return reports


def _in_force(cursor: duckdb.DuckDBPyConnection) -> pd.DataFrame:
    found = fetch(
        cursor,
        f'SELECT {", ".join(KEY)}, file, "column" AS at_fault, reason, cells_json, '
        f"{', '.join(AS_WRITTEN)} FROM set_aside_detail WHERE in_force "
        "ORDER BY batch_id DESC, line, place",
    )
    cells = [
        json.loads(text) if isinstance(text, str) and text else row
        for text, row in zip(found["cells_json"], found[AS_WRITTEN].to_dict("records"), strict=True)
    ]
    columns = {name: [row.get(name, "") for row in cells] for name in COLUMNS}
    return found.drop(columns=["cells_json", *AS_WRITTEN]).assign(**columns)


def _as_table(rows: pd.DataFrame) -> RawTable:
    texts = rows[list(COLUMNS)].astype("str")
    filled = [name for name in COLUMNS if name in AS_WRITTEN or (texts[name] != "").any()]
    content = json.dumps([rows[KEY].values.tolist(), texts.values.tolist()])
    file = str(rows["file"].iloc[0]).removesuffix(", corrected")
    return RawTable(
        texts[filled].set_axis(pd.Index(rows["line"], name="line")),
        f"{file}, corrected",
        hashlib.sha256(content.encode()).hexdigest(),
        writing=KEYED_IN,
        broken=MappingProxyType({}),
    )
