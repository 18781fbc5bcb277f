from __future__ import annotations

import re

import pandas as pd
import pytest

from db.errors import BadInput
from db.plans.exercises import (
    JOINTS,
    KINDS,
    REGIONS,
    ExercisesSaved,
    exercises_csv,
    list_exercises,
    read_exercises_file,
    save_exercises,
)
from tests.db.conftest import dump

NEW = {
    "exercise": "sled_push",
    "name": "Sled push",
    "region": "lower",
    "joints": "Knee; ankle;hip",
    "complexity": "1",
    "kind": "carry",
}


def test_the_built_in_exercises_use_our_words(store):
    rows = list_exercises(store)
    assert len(rows) == 43 and rows["built_in"].all() and rows["active"].all()
    assert set(rows["region"]) == set(REGIONS)
    assert set(rows["kind"]) | {"skill"} == set(KINDS)
    for joints in rows["joints"]:
        named = joints.split(";")
        assert named == [joint for joint in JOINTS if joint in named]


def test_the_library_names_the_joints_that_work(store):
    joints = list_exercises(store).set_index("exercise")["joints"].str.split(";")
    for whole in ("power_clean", "hang_clean", "power_snatch", "jerk", "overarm_throw"):
        assert set(joints[whole]) == set(JOINTS) - {"neck"}, whole
    assert {"knee", "hip", "spine"} == set(joints["hip_thrust"])
    assert {"knee", "shoulder blade"} <= set(joints["kettlebell_swing"])
    assert {"knee", "ankle", "wrist"} <= set(joints["medicine_ball_throw"])
    assert set(joints.index) >= {
        "nordic_curl",
        "adductor_side_plank",
        "adductor_squeeze",
        "trap_bar_deadlift",
        "external_rotation",
        "change_of_direction",
        "lateral_bound",
    }


def test_the_code_has_the_same_words_as_the_table(store):
    with store.reading() as cursor:
        checks = cursor.execute(
            "SELECT constraint_text FROM duckdb_constraints() WHERE table_name = 'exercise'"
        ).fetchall()
    lists = [re.findall(r"'([^']+)'", text) for (text,) in checks]
    assert list(REGIONS) in lists and list(KINDS) in lists


def test_an_exercise_is_added_changed_and_switched_off(store):
    assert save_exercises(store, pd.DataFrame([NEW]), "coach") == ExercisesSaved(1, 0, 0)
    found = list_exercises(store).set_index("exercise").loc["sled_push"]
    assert (found["joints"], found["complexity"]) == ("ankle;knee;hip", 1)
    assert found["active"] and not found["built_in"]
    change = pd.DataFrame({"exercise": ["sled_push", "plank"], "active": ["no", ""]})
    assert save_exercises(store, change, "coach") == ExercisesSaved(0, 1, 1)
    assert "sled_push" not in set(list_exercises(store, active_only=True)["exercise"])
    plank = list_exercises(store).set_index("exercise").loc["plank"]
    assert plank["built_in"]


def test_the_library_can_be_exported_and_imported_again(store):
    save_exercises(store, pd.DataFrame([NEW | {"name": "=Sled"}]), "coach")
    text = exercises_csv(store)
    assert "sled_push,'=Sled,lower,ankle;knee;hip,1,carry,yes" in text
    frame = read_exercises_file(text.encode(), "exercises.csv")
    before = dump(store)
    assert save_exercises(store, frame, "coach") == ExercisesSaved(0, 0, 44)
    assert dump(store) == before


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"exercise": "sled push!"}, "row 0, exercise: 'sled push!' cannot be a code"),
        ({"region": "arms"}, "'arms' is not allowed; the words are lower, upper, trunk, whole"),
        ({"joints": "knee;wing"}, "'wing' is no joint; the joints are ankle, knee"),
        ({"joints": " ; "}, "is new and needs joints"),
        ({"complexity": "4"}, "4 is outside 1 to 3"),
        ({"kind": ""}, "'sled_push' is new and needs kind"),
        ({"active": "maybe"}, "write yes or no"),
    ],
)
def test_exercises_that_cannot_be_saved(store, change, sentence):
    before = dump(store)
    with pytest.raises(BadInput, match=re.escape(sentence)):
        save_exercises(store, pd.DataFrame([NEW | change]), "coach")
    assert dump(store) == before


def test_files_that_are_not_exercise_files(store):
    with pytest.raises(BadInput, match="The column exercise is missing. The columns may be"):
        save_exercises(store, pd.DataFrame({"name": ["x"]}), "coach")
    with pytest.raises(BadInput, match="'sled_push' stands there 2 times"):
        save_exercises(store, pd.DataFrame([NEW, NEW]), "coach")
    with pytest.raises(BadInput, match="Complete the row and try again"):
        read_exercises_file(b"exercise,name\nsled_push\n", "exercises.csv")
