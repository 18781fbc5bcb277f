"""Check what must hold in a store beyond what its tables enforce."""

from __future__ import annotations

import duckdb

from db.file.copies import leftovers
from db.file.frames import fetch_number
from db.file.store import Store

# Child table and column, parent table and column. Most are foreign keys too; a damaged file
# can break even those.
PARENTS = (
    ("session", "athlete", "athlete", "athlete"),
    ("session", "measure", "measure", "measure"),
    ("athlete_status", "athlete", "athlete", "athlete"),
    ("measure_protocol", "measure", "measure", "measure"),
    ("effort", "session_id", "session", "session_id"),
    ("test_limit", "session_id", "session", "session_id"),
    ("effort", "batch_id", "import_batch", "batch_id"),
    ("effort_change", "effort_id", "effort", "effort_id"),
    ("set_aside_row", "batch_id", "import_batch", "batch_id"),
    ("set_aside_correction", "batch_id", "import_batch", "batch_id"),
    ("set_aside_correction", "corrected_in", "import_batch", "batch_id"),
    ("taken_back_import", "batch_id", "import_batch", "batch_id"),
    ("taken_back_effort", "batch_id", "taken_back_import", "batch_id"),
    ("taken_back_effort", "session_id", "session", "session_id"),
    ("import_touch", "batch_id", "import_batch", "batch_id"),
    ("import_touch", "earlier_batch_id", "import_batch", "batch_id"),
    ("filled_fact", "filled_by", "import_batch", "batch_id"),
    ("filled_fact", "session_id", "session", "session_id"),
    ("mapping_athlete", "mapping", "mapping", "mapping"),
    ("mapping_athlete", "athlete", "athlete", "athlete"),
    ("fit", "measure", "measure", "measure"),
    ("response", "fit_id", "fit", "fit_id"),
    ("response", "athlete", "athlete", "athlete"),
    ("curve_point", "fit_id", "fit", "fit_id"),
    ("curve_point", "athlete", "athlete", "athlete"),
    ("squad_curve_point", "fit_id", "fit", "fit_id"),
    ("session_peak", "fit_id", "fit", "fit_id"),
    ("session_peak", "session_id", "session", "session_id"),
    ("advice_base", "fit_id", "fit", "fit_id"),
    ("account_constant", "fit_id", "advice_base", "fit_id"),
    ("level_effect", "fit_id", "advice_base", "fit_id"),
    ("curve_draw", "fit_id", "advice_base", "fit_id"),
    ("curve_draw", "athlete", "athlete", "athlete"),
    ("fit_check", "fit_id", "fit", "fit_id"),
    ("volume_band", "fit_id", "fit_check", "fit_id"),
    ("session_place", "fit_id", "fit_check", "fit_id"),
    ("fit_learned", "fit_id", "fit", "fit_id"),
    ("test_run", "session_id", "session", "session_id"),
    ("session_method", "session_id", "session", "session_id"),
    ("undone_effort", "session_id", "session", "session_id"),
    ("data_check", "fit_id", "fit", "fit_id"),
    ("next_test", "fit_id", "fit", "fit_id"),
    ("next_test", "athlete", "athlete", "athlete"),
    ("best_volume_change", "fit_id", "fit", "fit_id"),
    ("best_volume_change", "athlete", "athlete", "athlete"),
    ("best_volume_change", "since_session_id", "session", "session_id"),
    ("best_volume_change", "earliest_session_id", "session", "session_id"),
    ("best_volume_change", "latest_session_id", "session", "session_id"),
    ("squad_worth", "fit_id", "fit", "fit_id"),
    ("finding", "fit_id", "data_check", "fit_id"),
    ("finding", "athlete", "athlete", "athlete"),
    ("finding", "other_athlete", "athlete", "athlete"),
    ("finding_effort", "finding_id", "finding", "finding_id"),
    ("finding_effort", "session_id", "session", "session_id"),
    ("finding_decision", "finding_id", "finding", "finding_id"),
    ("decision_change", "decision_id", "finding_decision", "decision_id"),
    ("decision_change", "change_id", "effort_change", "change_id"),
    ("session_plan", "athlete", "athlete", "athlete"),
    ("session_plan", "measure", "measure", "measure"),
    ("planned_exercise", "session_plan_id", "session_plan", "session_plan_id"),
    ("planned_exercise", "exercise", "exercise", "exercise"),
    ("session_readiness", "session_plan_id", "session_plan", "session_plan_id"),
    ("lifted_set", "athlete", "athlete", "athlete"),
    ("lifted_set", "exercise", "exercise", "exercise"),
    ("plan", "athlete", "athlete", "athlete"),
    ("trial", "athlete", "athlete", "athlete"),
    ("trial", "measure", "measure", "measure"),
    ("trial_session", "trial_id", "trial", "trial_id"),
    ("trial_session", "plan_id", "plan", "plan_id"),
    ("lapsed_plan", "plan_id", "plan", "plan_id"),
    ("lapsed_plan", "athlete", "athlete", "athlete"),
    ("second_game_plan", "plan_id", "plan", "plan_id"),
    ("second_game_plan", "athlete", "athlete", "athlete"),
    ("private_link", "athlete", "athlete", "athlete"),
    ("game", "measure", "measure", "measure"),
    ("game_course", "game_id", "game", "game_id"),
    ("game_prevention", "game_id", "game", "game_id"),
    ("game_start", "game_id", "game", "game_id"),
    ("game_wave", "game_id", "game", "game_id"),
    ("game_athlete", "game_id", "game", "game_id"),
    ("game_athlete", "athlete", "athlete", "athlete"),
    ("game_athlete", "plan_id", "plan", "plan_id"),
    ("game_bench", "game_id", "game", "game_id"),
    ("game_bench", "athlete", "athlete", "athlete"),
    ("plan", "measure", "measure", "measure"),
    ("person", "athlete", "athlete", "athlete"),
    ("athlete_squad", "athlete", "athlete", "athlete"),
    ("athlete_merge", "athlete", "athlete", "athlete"),
    ("athlete_merge", "other_athlete", "athlete", "athlete"),
    ("merged_row", "merge_id", "athlete_merge", "merge_id"),
    ("person_squad", "person", "person", "person"),
    ("person_sees_all", "person", "person", "person"),
    ("person_email", "person", "person", "person"),
    ("invitation", "person", "person", "person"),
    ("web_session", "person", "person", "person"),
)
# A sentence with a place for the count, and a query that counts what breaks the rule.
RULES = (
    (
        "{} efforts have a value outside the limits of their measure",
        "SELECT count(*) FROM effort_detail d JOIN measure m ON m.measure = d.measure "
        "WHERE NOT isfinite(d.value) OR d.value <= 0 OR d.value < m.lowest OR d.value > m.highest",
    ),
    (
        "{} efforts have a volume that is negative or not finite",
        "SELECT count(*) FROM effort WHERE NOT isfinite(volume) OR volume < 0",
    ),
    (
        "{} efforts stand more than once in their session",
        "SELECT count(*) FROM (SELECT 1 FROM effort GROUP BY session_id, effort "
        "HAVING count(*) > 1)",
    ),
    (
        "{} sessions of an athlete stand there more than once with the same measure and start",
        "SELECT count(*) FROM (SELECT 1 FROM session GROUP BY athlete, measure, started_at, "
        "utc_offset_minutes HAVING count(*) > 1)",
    ),
    (
        "{} sessions have no efforts",
        "SELECT count(*) FROM session ANTI JOIN effort USING (session_id) "
        "ANTI JOIN taken_back_effort USING (session_id) ANTI JOIN test_run USING (session_id)",
    ),
    (
        "{} imports do not account for all of their rows",
        "SELECT count(*) FROM import_batch WHERE stored + known + set_aside <> rows_read",
    ),
    (
        "{} imports name another number of stored efforts than there are",
        "SELECT count(*) FROM import_batch b WHERE stored <> "
        "(SELECT count(*) FROM effort e WHERE e.batch_id = b.batch_id) "
        "AND batch_id NOT IN (SELECT batch_id FROM taken_back_import)",
    ),
    (
        "{} imports were taken back and do not have all of their efforts among those taken back",
        "SELECT count(*) FROM import_batch b SEMI JOIN taken_back_import USING (batch_id) "
        "WHERE stored <> (SELECT count(*) FROM taken_back_effort t "
        "WHERE t.batch_id = b.batch_id)",
    ),
    (
        "{} efforts that were taken back are still in use",
        "SELECT count(*) FROM (SELECT effort_id FROM taken_back_effort UNION ALL "
        "SELECT effort_id FROM undone_effort) SEMI JOIN effort USING (effort_id)",
    ),
    (
        "{} imports name another number of rows set aside than there are",
        "SELECT count(*) FROM import_batch b WHERE set_aside <> "
        "(SELECT count(*) FROM set_aside_row r WHERE r.batch_id = b.batch_id)",
    ),
    (
        "{} changed efforts do not have the value or the exclusion of their last change",
        "SELECT count(*) FROM effort e JOIN (SELECT effort_id, arg_max(new_value, change_id) "
        "AS value, arg_max_null(new_excluded, change_id) AS excluded FROM effort_change "
        "GROUP BY effort_id) c ON c.effort_id = e.effort_id "
        "WHERE e.value <> c.value OR e.excluded IS DISTINCT FROM c.excluded",
    ),
    (
        "{} fits have no responses",
        "SELECT count(*) FROM fit f ANTI JOIN response USING (fit_id) WHERE athletes > (SELECT "
        "count(*) FROM audit WHERE action = 'erase athlete' AND happened_at >= f.fitted_at)",
    ),
    (
        "{} fits have no curve of the squad",
        "SELECT count(*) FROM fit ANTI JOIN squad_curve_point USING (fit_id)",
    ),
    (
        "{} responses have no curve",
        "SELECT count(*) FROM response ANTI JOIN curve_point USING (fit_id, athlete)",
    ),
    (
        "{} responses have a median outside their interval",
        "SELECT count(*) FROM response WHERE "
        "best_volume NOT BETWEEN best_volume_low AND best_volume_high OR "
        "gain_pct NOT BETWEEN gain_pct_low AND gain_pct_high OR "
        "hold_volume NOT BETWEEN hold_volume_low AND hold_volume_high OR "
        "loss_at_standard_pct NOT BETWEEN loss_at_standard_pct_low AND loss_at_standard_pct_high",
    ),
    (
        "{} checks of fits do not add up in their sessions",
        "SELECT count(*) FROM fit_check c WHERE sessions <> (SELECT coalesce(sum(sessions), 0) "
        "FROM session_place p WHERE p.fit_id = c.fit_id)",
    ),
    (
        "{} rows have a later revision than the store",
        "SELECT count(*) FROM (SELECT revision FROM effort UNION ALL "
        "SELECT data_revision FROM fit) WHERE revision > (SELECT max(revision) FROM audit)",
    ),
    (
        "{} writes are missing from the audit",
        "SELECT coalesce(max(revision), 0) - count(*) FROM audit",
    ),
)
LEFT = (
    "{} is left over from a copy or a change that was stopped, and holds athletes' data. The next "
    "backup or start of the server removes it; if it is still there then, remove it by hand."
)


def check(store: Store) -> list[str]:
    """List what is wrong in a store or left behind of it; an empty list means that it is sound.

    Raises
    ------
    StoreDamaged
        If part of the file cannot be read.
    """
    with store.reading() as cursor:
        _read_everything(cursor)
        orphans = [_orphans(cursor, *parent) for parent in PARENTS]
        broken = [_broken(cursor, sentence, query) for sentence, query in RULES]
        left = [LEFT.format(path) for path in leftovers(store)]
        return [problem for problem in [*orphans, *broken, *left] if problem]


def _read_everything(cursor: duckdb.DuckDBPyConnection) -> None:
    """Read every block of every table, as DuckDB checks the checksums only of what it reads."""
    for (table,) in cursor.execute("SELECT table_name FROM duckdb_tables()").fetchall():
        cursor.execute(f'SELECT bit_xor(hash(t)) FROM "{table}" t').fetchone()


def _orphans(
    cursor: duckdb.DuckDBPyConnection, table: str, column: str, parent: str, key: str
) -> str | None:
    missing = cursor.execute(
        f"SELECT DISTINCT {column} AS key FROM {table} c WHERE {column} IS NOT NULL "
        f"AND {column} NOT IN (SELECT {key} FROM {parent}) ORDER BY key"
    ).fetchall()
    if not missing:
        return None
    shown = ", ".join(str(key) for (key,) in missing[:5]) + (" ..." if len(missing) > 5 else "")
    return f"{table} refers to {len(missing)} rows of {parent} that do not exist: {shown}."


def _broken(cursor: duckdb.DuckDBPyConnection, sentence: str, query: str) -> str | None:
    count = fetch_number(cursor, query)
    return f"{sentence.format(count)}." if count else None
