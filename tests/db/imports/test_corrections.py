from __future__ import annotations

import pytest

from db.efforts.rows import efforts
from db.errors import BadInput
from db.file.checks import check
from db.imports.corrections import correctable_rows, store_corrected
from db.imports.past_imports import import_batches, set_aside_rows
from db.imports.storing import import_efforts
from tests.db.conftest import HEADER, table_of

SESSION = "A1,2026-03-01T09:00,jump_height"


def test_rows_set_aside_are_listed_with_every_cell(store, bring):
    bring(f"{SESSION},1,x,3,fade,slept badly", f"{SESSION}", header=f"{HEADER},kind,note")
    rows = correctable_rows(store)
    assert rows[["line", "place", "at_fault"]].values.tolist() == [[2, 1, "value"], [3, 1, "row"]]
    assert rows.iloc[0][["value", "volume_before", "kind", "note"]].tolist() == [
        "x",
        "3",
        "fade",
        "slept badly",
    ]
    assert rows.iloc[1][["athlete", "effort", "note"]].tolist() == ["A1", "", ""]


def test_corrected_rows_are_stored_under_their_line_and_leave_the_list(store, bring):
    bring(f"{SESSION},1,40,0", f"{SESSION},2,4l,1", f"{SESSION},3,x,2")
    rows = correctable_rows(store)
    rows.loc[0, "value"] = "41,5"
    rows.loc[1, "value"] = "999"
    [report] = store_corrected(store, rows, "coach")
    assert (report.rows_read, report.stored, report.known, report.set_aside) == (2, 1, 0, 1)
    assert efforts(store, "jump_height")["value"].tolist() == [40.0, 41.5]
    assert set_aside_rows(store)[["file", "line", "reason"]].values.tolist() == [
        ["rows.csv, corrected", 4, "999 is outside 5 to 150 cm, the limits of jump_height"]
    ]
    batches = import_batches(store)
    assert batches[["rows_read", "stored", "set_aside"]].values.tolist() == [[2, 1, 1], [3, 1, 2]]
    assert batches["person"].tolist() == ["coach", "tester"]
    with store.reading() as cursor:
        last = cursor.execute("SELECT person, action, detail FROM audit ORDER BY revision").df()
    assert last.iloc[-1].tolist() == ["coach", "import efforts", "2 corrected rows"]
    assert check(store) == []


def test_a_row_can_be_corrected_again_and_again(store, bring):
    bring(f"{SESSION},1,x,0")
    for value, left in (("y", 1), ("x", 1), ("40", 0)):
        store_corrected(store, correctable_rows(store).assign(value=value), "coach")
        assert len(correctable_rows(store)) == left
    assert efforts(store, "jump_height")["value"].tolist() == [40.0]
    assert check(store) == []


def test_a_corrected_row_stays_corrected_when_the_file_is_imported_again(store):
    table = table_of([f"{SESSION},1,x,0", "A9,2026-03-01T09:00,jump_height,1,40,0"])
    import_efforts(store, table, "tester")
    store_corrected(store, correctable_rows(store)[:1].assign(value="40"), "coach")
    import_efforts(store, table, "tester", add_athletes=True)
    assert correctable_rows(store).empty
    assert efforts(store, "jump_height")["value"].tolist() == [40.0, 40.0]


def test_corrected_rows_become_one_import_for_each_file(store, bring):
    bring(f"{SESSION},1,x,0")
    bring("A9,2026-03-01T09:00,jump_height,1,40,0")
    rows = correctable_rows(store)
    rows["value"] = "40"
    reports = store_corrected(store, rows, "coach", add_athletes=True)
    assert [report.stored for report in reports] == [1, 1]
    assert reports[1].new_athletes == ("A9",)
    assert check(store) == []


def test_rows_that_somebody_else_corrected_meanwhile_are_refused(store, bring):
    bring(f"{SESSION},1,x,0")
    rows = correctable_rows(store).assign(value="40")
    store_corrected(store, rows, "coach")
    with pytest.raises(BadInput, match="were corrected or imported again since the page was open"):
        store_corrected(store, rows, "coach")
    with pytest.raises(BadInput, match="No row was chosen"):
        store_corrected(store, rows[:0], "coach")


def test_rows_set_aside_before_all_cells_were_saved_are_still_listed(store, bring):
    bring(f"{SESSION},1,x,3")
    with store.writing("tester", "forget cells") as cursor:
        cursor.execute("UPDATE set_aside_row SET cells_json = NULL")
    row = correctable_rows(store).iloc[0]
    assert row[["athlete", "value", "volume_before"]].tolist() == ["A1", "x", ""]
