from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from db.file.checks import check
from db.file.store import Store
from db.imports.effort_files import read_table
from db.imports.past_imports import set_aside_rows
from db.imports.storing import import_efforts
from tests.db.conftest import dump

HEADER = "athlete,started_at,measure,effort,value,volume_before,kind,rest_minutes,excluded"
CELLS = [
    st.sampled_from(["A1", "A2", "A9", "", "=x"]),
    st.sampled_from(["2026-03-01T09:00", "2026-03-01T09:00+01:00", "2026-03-02 10:00", "soon"]),
    st.sampled_from(["jump_height", "sprint_10m", "jump"]),
    st.sampled_from(["1", "2", "2.0", "3", "0", "x"]),
    st.sampled_from(["40", "40.0", "41", "4", "nan", ""]),
    st.sampled_from(["0", "1", "", "-1"]),
    st.sampled_from(["", "fade", "routine", "hard"]),
    st.sampled_from(["", "5", "7"]),
    st.sampled_from(["", "slipped", "wind"]),
]
GOOD = [st.just("A1"), st.just("2026-03-01T09:00"), st.just("jump_height"), *CELLS[3:]]
ROWS = st.lists(st.one_of(st.tuples(*CELLS), st.tuples(*GOOD)).map(",".join), min_size=1)


@settings(
    max_examples=10,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(first=ROWS, second=ROWS, add_athletes=st.booleans())
def test_every_row_is_stored_known_or_set_aside(
    made_once: Path, tmp_path: Path, first: list[str], second: list[str], add_athletes: bool
) -> None:
    path = tmp_path / "store.duckdb"
    shutil.copyfile(made_once, path)
    store = Store(path)
    with store.reading():
        for rows in (first, second):
            table = read_table("\n".join([HEADER, *rows]).encode(), "rows.csv")
            report = import_efforts(store, table, "tester", add_athletes)
            assert report.rows_read == len(rows)
            assert report.stored + report.known + report.set_aside == len(rows)
            aside = set_aside_rows(store, report.batch_id)
            assert len(aside) == report.set_aside
            assert aside["row_text"].tolist() == [rows[line - 2] for line in aside["line"]]
            before = dump(store)
            again = import_efforts(store, table, "tester", add_athletes)
            assert dump(store) == before
            assert (again.stored, again.set_aside) == (0, report.set_aside)
            assert again.known == report.stored + report.known
        assert check(store) == []


def test_a_row_set_aside_for_one_fact_does_not_settle_another(closed_store: Store) -> None:
    """Found at random: the second row got the third set aside, but it was stored the next time."""
    rows = [
        "A1,2026-03-01T09:00,jump_height,1,40,0,,5,",
        "A1,2026-03-01T09:00,jump_height,1,40,0,fade,7,",
        "A1,2026-03-01T09:00,jump_height,2,40,0,routine,5,slipped",
    ]
    table = read_table("\n".join([HEADER, *rows]).encode(), "rows.csv")
    first = import_efforts(closed_store, table, "tester")
    assert (first.stored, first.set_aside) == (2, 1)
    [aside] = set_aside_rows(closed_store, first.batch_id).to_dict("records")
    assert aside["line"] == 3 and "rest_minutes is 7 here and 5" in aside["reason"]
    again = import_efforts(closed_store, table, "tester")
    assert (again.stored, again.known, again.set_aside) == (0, 2, 1)


def test_a_session_of_contradictory_rows_gives_the_same_result_again(
    closed_store: Store,
) -> None:
    rng = np.random.default_rng(6)
    kinds, rests = rng.choice(["", "fade", "routine"], 900), rng.choice(["", "5", "7"], 900)
    rows = [
        f"A1,2026-03-01T09:00,jump_height,{number},40,0,{kind},{rest},"
        for number, (kind, rest) in enumerate(zip(kinds, rests, strict=True), start=1)
    ]
    table = read_table("\n".join([HEADER, *rows]).encode(), "rows.csv")
    first = import_efforts(closed_store, table, "tester")
    again = import_efforts(closed_store, table, "tester")
    assert first.stored > 300 and first.set_aside > 300
    assert (again.stored, again.known, again.set_aside) == (0, first.stored, first.set_aside)
