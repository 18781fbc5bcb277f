from __future__ import annotations

import io
import os
from pathlib import Path

import pandas as pd

from db.errors import BadInput
from db.file.frames import fetch
from db.file.store import Store
from db.file.unfinished import unfinished
from db.fits.export_names import EXPORTS, ExportName
from db.tables.cells import FORMULA

STARTED_AT = (
    "replace(started_at::VARCHAR, ' ', 'T') || CASE WHEN utc_offset_minutes IS NULL THEN '' "
    "ELSE printf('%s%02d:%02d', CASE WHEN utc_offset_minutes < 0 THEN '-' ELSE '+' END, "
    "abs(utc_offset_minutes) // 60, abs(utc_offset_minutes) % 60) END"
)
"""The wall time of a session, in SQL, with its offset if there is one, to be read back in."""

_CONSTANTS = ("general_per_minute", "half_life_minutes", "stretch_per_degree", "stretch_per_hour")


def _constant(name: str) -> str:
    """Return, as SQL, what a fit says about one constant of the warm-up account."""
    one = f"FILTER (\"constant\" = '{name}') AS {name}"
    return f"max(value) {one}, max(low) {one}_low, max(high) {one}_high, max(status) {one}_status"


_ENDS = ("", "_low", "_high")

_QUERIES: dict[ExportName, tuple[str, str]] = {
    "responses": (
        "SELECT athlete, measure, volume_unit, sessions, efforts, last_session, best_volume, "
        "best_volume_low, best_volume_high, gain_pct, gain_pct_low, gain_pct_high, hold_volume, "
        "hold_volume_low, hold_volume_high, advised_volume, loss_at_standard_pct, "
        "loss_at_standard_pct_low, loss_at_standard_pct_high, chance_short, chance_long, "
        "chance_either, call, reach, good_from, good_to FROM latest_response JOIN "
        "(SELECT measure, volume_unit FROM measure) USING (measure)",
        "ORDER BY measure, athlete",
    ),
    "curves": (
        "SELECT athlete, measure, volume, change_pct, change_pct_low, change_pct_high "
        "FROM latest_curve",
        "ORDER BY measure, athlete, volume",
    ),
    "bands": (
        "SELECT measure, lowest_volume, highest_volume, mean_volume, efforts, observed_pct, "
        "expected_pct, low_pct, high_pct FROM latest_volume_band",
        "ORDER BY measure, band",
    ),
    "next-tests": (
        "SELECT athlete, measure, kind, volume, worth_pct, sessions_to_firm_call, takes, "
        "takes_low, takes_high FROM latest_next_test",
        "ORDER BY measure, worth_pct DESC, athlete, kind",
    ),
    "squad": (
        "SELECT measure, athletes, best_single_volume, worth_of_individual_pct, "
        "worth_of_individual_pct_low, worth_of_individual_pct_high, spread_log_sd, "
        "spread_log_sd_low, spread_log_sd_high, chance_athletes_differ, standard_volume, "
        "worthwhile_pct, over_standard.* EXCLUDE (fit_id), constants.* EXCLUDE (fit_id) "
        "FROM latest_fit LEFT JOIN (SELECT fit_id, "
        f"{', '.join(f'worth_pct{end} AS worth_over_standard_pct{end}' for end in _ENDS)}, "
        f"{', '.join(f'gaining{end} AS gaining_over_standard{end}' for end in _ENDS)} "
        "FROM squad_worth WHERE against = 'standard') over_standard USING (fit_id) "
        f"LEFT JOIN (SELECT fit_id, {', '.join(map(_constant, _CONSTANTS))} "
        "FROM account_constant GROUP BY fit_id) constants USING (fit_id)",
        "ORDER BY measure",
    ),
    "efforts": (
        f"SELECT athlete, {STARTED_AT} AS started_at, measure, effort, value, "
        "volume AS volume_before, kind, context, general_minutes, rest_minutes, "
        "effort_rest_seconds, ambient_c, days_since_game, load_kg, planned_volume, "
        "freshness, joints, mobility, "
        "CASE WHEN pain THEN 'yes' WHEN NOT pain THEN 'no' END AS pain, note, excluded "
        "FROM effort_detail",
        "ORDER BY measure, athlete, effort_detail.started_at, session_id, effort",
    ),
    "set-aside": (
        "SELECT batch_id, file, line, athlete, started_at, measure, effort, value, "
        '"column", reason, row_text, "at" FROM set_aside_detail',
        "ORDER BY batch_id, line",
    ),
}


def export_frame(store: Store, what: ExportName, measure: str | None = None) -> pd.DataFrame:
    """Return the rows of an export, of one measure or of all.

    Raises
    ------
    BadInput
        If there is no export of that name, or no such measure.
    """
    if what not in _QUERIES:
        raise BadInput(f"There is no export '{what}'. The exports are {', '.join(EXPORTS)}.")
    query, order = _QUERIES[what]
    where = "in_force AND" if what == "set-aside" else ""
    with store.reading() as cursor:
        return fetch(
            cursor, f"{query} WHERE {where} ($1 IS NULL OR measure = $1) {order}", [measure]
        )


def write_export(frame: pd.DataFrame, path: Path | str) -> None:
    """Write an export as CSV or Parquet, by the ending of the file's name.

    In CSV a text that a spreadsheet would run as a formula gets a ' before it; reading the
    file back in takes it off again. The file is replaced as a whole or not at all.

    Raises
    ------
    BadInput
        If the ending is neither of these or the file cannot be written.
    """
    path = Path(path)
    if path.suffix.lower() not in (".csv", ".parquet"):
        raise BadInput(f"An export is written as .csv or .parquet, and {path.name} is neither.")
    try:
        with unfinished(path.parent) as part:
            (part / "file").write_bytes(export_bytes(frame, path.suffix))
            os.replace(part / "file", path)
    except OSError as error:
        raise BadInput(
            f"The file {path} cannot be written: {error.strerror}. Check the folder."
        ) from error


def export_bytes(frame: pd.DataFrame, ending: str) -> bytes:
    """Return an export as CSV or Parquet, by the ending."""
    if ending.lower() == ".csv":
        return csv_text(frame).encode()
    packed = io.BytesIO()
    frame.to_parquet(packed, index=False)
    return packed.getvalue()


def csv_text(frame: pd.DataFrame) -> str:
    """Return a frame as CSV in which no spreadsheet runs a text as a formula."""
    safe = frame.map(_without_formula)
    return safe.to_csv(index=False, date_format="%Y-%m-%dT%H:%M:%S", lineterminator="\n")


def _without_formula(cell: object) -> object:
    return f"'{cell}" if isinstance(cell, str) and FORMULA.match(cell) else cell
