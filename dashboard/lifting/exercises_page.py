"""The library of exercises: look through it, add, change, import and export as CSV."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard.core import numbers
from dashboard.screen import doing, elements
from dashboard.screen.access import require
from dashboard.screen.file_choice import choose_rows, choose_sheet, reading
from dashboard.screen.menu import at
from dashboard.screen.reads import ask, own_store
from db.errors import StoreError
from db.plans.exercises import (
    BETWEEN_JOINTS,
    JOINTS,
    KINDS,
    REGIONS,
    list_exercises,
    read_exercises_file,
    save_exercises,
)

COMPLEXITIES = {1: "1 simple", 2: "2 some skill", 3: "3 complex"}
NEW = "A new exercise"

person = require("director", "coach")
st.title("Exercises")
doing.show_said()
rows = ask(list_exercises)
elements.quiet(
    f"{numbers.counted(len(rows), 'exercise')}, of which {int(rows['built_in'].sum())} came with"
    " the program and are unchanged: their joints, complexity and kind are common practice, no"
    " source."
)
st.dataframe(
    rows.assign(joints=rows["joints"].str.replace(BETWEEN_JOINTS, ", ")),
    hide_index=True,
    column_order=("name", "kind", "region", "joints", "complexity", "active", "exercise"),
    column_config={"exercise": "code", "active": "offered"},
    alt=f"The library of {len(rows)} exercises",
)

st.header("Add or change")
known = {row["exercise"]: row for row in rows.to_dict("records")}
chosen = st.selectbox(
    "Exercise",
    [None, *known],
    format_func=lambda code: NEW if code is None else known[code]["name"],
    key="exercise_chosen",
)
start = known.get(chosen, {})
key = f"exercise_{chosen}_{doing.turn()}"
with st.form(key):
    with st.container(horizontal=True):
        code = chosen or st.text_input(
            "Code", max_chars=40, placeholder="such as sled_push", key=f"{key}_code"
        )
        name = st.text_input("Name", start.get("name", ""), 60, key=f"{key}_name")
    with st.container(horizontal=True):
        region = st.selectbox(
            "Region", REGIONS, REGIONS.index(start.get("region", "lower")), key=f"{key}_region"
        )
        kind = st.selectbox(
            "Kind", KINDS, KINDS.index(start.get("kind", "squat")), key=f"{key}_kind"
        )
        complexity = st.selectbox(
            "Complexity",
            list(COMPLEXITIES),
            start.get("complexity", 1) - 1,
            format_func=lambda level: COMPLEXITIES[level],
            key=f"{key}_complexity",
        )
    joints = st.multiselect(
        "Joints that work",
        JOINTS,
        start["joints"].split(BETWEEN_JOINTS) if start else [],
        key=f"{key}_joints",
    )
    active = st.checkbox("Offered for new plans", start.get("active", True), key=f"{key}_active")
    asked = st.form_submit_button("Save the exercise", type="primary")
if asked:
    row = {
        "exercise": code.strip(),
        "name": name.strip(),
        "region": region,
        "joints": BETWEEN_JOINTS.join(joints),
        "complexity": str(complexity),
        "kind": kind,
        "active": "yes" if active else "no",
    }
    doing.do(
        f"{name.strip() or code.strip()} is saved.",
        lambda: save_exercises(own_store(), pd.DataFrame([row]), person.person),
    )

st.header("As a file")
st.write(
    "The columns are exercise (the code), name, region, joints (with ; between), complexity, kind"
    " and active. Known codes are changed, new ones added; an empty cell leaves what is there."
)
st.link_button("Exercises (CSV)", at("/download/exercises.csv"), key="exercises_csv")
key = f"exercises_{doing.turn()}"
upload = choose_rows(key)
if upload is not None:
    try:
        sheet = choose_sheet(upload, key)
        with reading(key) as progress:
            frame = read_exercises_file(upload.content, upload.name, sheet, progress)
    except StoreError as error:
        st.error(f"{error.title}. {error.message}")
        st.stop()
    st.dataframe(frame.head(elements.SHOWN_ROWS), hide_index=True, alt="The first rows of the file")
    if st.button(f"Store {numbers.counted(len(frame), 'exercise')}", key="store_exercises"):
        doing.do(
            f"{upload.name} is saved.",
            lambda: save_exercises(own_store(), frame, person.person),
        )
