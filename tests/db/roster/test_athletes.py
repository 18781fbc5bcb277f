from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from db.errors import BadInput
from db.roster.athletes import AthletesSaved, list_athletes, read_athletes_file, save_athletes
from tests.db.conftest import dump

FILE = b"athlete;name;position;born;active\nA1;Anna;guard;2001-05-31;yes\nA3;\xc3\x85se;;;no\n"


def test_athletes_of_a_file_are_added_and_updated(store):
    saved = save_athletes(store, read_athletes_file(FILE, "squad.csv"), "tester")
    assert saved == AthletesSaved(added=1, updated=1, unchanged=0)
    athletes = list_athletes(store).set_index("athlete")
    assert list(athletes.columns) == ["name", "position", "born", "active"]
    assert list(athletes.index) == ["A2", "A1", "A3"]
    assert athletes.loc["A1"].tolist() == ["Anna", "guard", pd.Timestamp("2001-05-31"), True]
    assert athletes.loc["A3", "name"] == "Åse"
    assert athletes.loc["A3", ["position", "born"]].isna().all()
    assert list(list_athletes(store, active_only=True)["athlete"]) == ["A2", "A1"]


def test_saving_the_same_again_writes_nothing(store):
    frame = read_athletes_file(FILE, "squad.csv")
    save_athletes(store, frame, "tester")
    before = dump(store)
    assert save_athletes(store, frame, "tester") == AthletesSaved(0, 0, 2)
    assert dump(store) == before


def test_empty_cells_and_absent_columns_leave_what_is_stored(store):
    save_athletes(store, read_athletes_file(FILE, "squad.csv"), "tester")
    typed = pd.DataFrame(
        {"athlete": ["A1", "A4"], "position": [None, "wing"], "active": [False, None]}
    )
    assert save_athletes(store, typed, "tester") == AthletesSaved(1, 1, 0)
    athletes = list_athletes(store).set_index("athlete")
    assert athletes.loc["A1"].tolist() == ["Anna", "guard", pd.Timestamp("2001-05-31"), False]
    assert athletes.loc["A4", ["name", "position", "active"]].tolist() == ["A4", "wing", True]


def test_typed_columns_are_read_too(store):
    typed = pd.DataFrame(
        {"athlete": [7], "born": [date(2000, 2, 29)], "active": [True], "position": [float("nan")]}
    )
    save_athletes(store, typed, "tester")
    seven = list_athletes(store).set_index("athlete").loc["7"]
    assert seven["born"] == pd.Timestamp("2000-02-29")


@pytest.mark.parametrize(
    ("rows", "sentence"),
    [
        ("A5,31.05.2001,", "row 2, born: '31.05.2001' is not a date; write it as 2001-05-31"),
        ("A5,2201-05-31,", "row 2, born: 2201-05-31 is no date of birth"),
        ("A5,,perhaps", "row 2, active: 'perhaps' is not allowed; write yes or no"),
        (",,", "has no rows"),
        (",2001-05-31,", "row 2, athlete: '' cannot be an athlete code"),
        ("=A5,,", "row 2, athlete: '=A5' cannot be an athlete code"),
        ("A5,,\nA5,,", "'A5' stands there 2 times"),
        ("\n".join(f"A{n},x," for n in range(10, 17)), r"row 6, born.* and 2 more\. Nothing"),
        ("A5,", "On line 2 of the file squad.csv the row has 2 cells and the header 3"),
    ],
)
def test_athletes_who_cannot_be_saved_are_reported_and_nothing_is_stored(store, rows, sentence):
    before = dump(store)
    with pytest.raises(BadInput, match=sentence):
        frame = read_athletes_file(f"athlete,born,active\n{rows}\n".encode(), "squad.csv")
        save_athletes(store, frame, "tester")
    assert dump(store) == before


def test_a_file_without_codes_is_refused(store):
    with pytest.raises(BadInput, match="The column athlete is missing"):
        save_athletes(store, read_athletes_file(b"name\nAnna\n", "squad.csv"), "tester")
