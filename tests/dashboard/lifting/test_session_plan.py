"""A session plan worked out from the store, in words, on paper and typed on its page."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date, timedelta

import pypdfium2
import pytest
from streamlit.testing.v1 import AppTest

from dashboard.lifting import bar_speed_words, words
from dashboard.lifting.paper import session_sheet
from dashboard.lifting.parts import ExercisePart, session_parts
from dashboard.lifting.plates import barbell_of, each_side_text, from_kg, to_kg
from dashboard.lifting.squad_loads import known_maxima, loaded, own_session, save_sessions
from db.errors import BadInput
from db.file.store import Store
from db.plans.exercises import JOINTS, list_exercises
from db.plans.lifted_sets import add_lifted_set, lifted_sets
from db.plans.planned_exercises import (
    GOALS,
    PlannedExercise,
    planned_exercises,
    save_planned_exercises,
)
from db.plans.readiness import Readiness, readiness
from db.plans.session_plans import SessionPlan, list_session_plans, save_session_plan
from modeling.lifting import general_part, session_order
from modeling.lifting.working_sets import STRENGTH_SHARE
from tests.dashboard.conftest import SignIn, told

DAY = date(2026, 3, 2)
PLAN = SessionPlan("Lower body", DAY, "A1", plates="25;20;15;10;5;2.5;1.25", note="after <travel>")
CLEAN = PlannedExercise("power_clean", "power", False, True, 3, 2, 80.0, 95.0)
SQUAT = PlannedExercise("back_squat", "strength", False, True, 4, 5, 110.0)
BENCH = PlannedExercise("bench_press", "strength", False, True, 3, 5, 82.0, None, 80.0, 6)
CALF = PlannedExercise("calf_raise", "growth", False, False, 6, 12)


def planned(store: Store, *exercises: PlannedExercise, plan: SessionPlan = PLAN) -> int:
    number = save_session_plan(store, plan, "carl")
    save_planned_exercises(store, number, exercises, "carl")
    return number


def squats(store: Store) -> None:
    """Add sets a week before the plan's day and on it: 1 cm/s slower a kg, and 3 cm/s that day."""
    for days, speed, loads in ((7, 1.50, (60, 80, 100)), (0, 1.47, (60, 80, 95))):
        for place, load in enumerate(loads):
            noise = (0.01, -0.02, 0.01)[place]
            add_lifted_set(
                store,
                "A1",
                "back_squat",
                DAY - timedelta(days=days),
                load,
                speed - 0.01 * load + noise,
                "carl",
            )


def parts_of(store: Store, *exercises: PlannedExercise) -> list[ExercisePart]:
    return list(session_parts(store, planned(store, *exercises)).parts)


def test_the_words_of_store_and_model_are_the_same() -> None:
    assert set(JOINTS) == set(general_part.JOINTS)
    assert GOALS == session_order.GOALS


def test_a_session_is_worked_out_in_order(filled_store: Store) -> None:
    squats(filled_store)
    session = session_parts(filled_store, planned(filled_store, CLEAN, SQUAT, BENCH, CALF))
    clean, squat, bench, calf = session.parts
    assert [part.own.how for part in session.parts] == ["full", "short", "short", "none"]
    assert [each.load for each in clean.ramp] == [20, 30, 50, 60, 70]
    assert [each.load for each in squat.ramp] == [65, 80, 100]
    assert [each.load for each in bench.ramp] == [50, 60, 75]
    for part in session.parts:
        table = words.ramp_table(part, "kg")
        assert table.empty or set(table["set"][:-1]) == {"build-up"}
    assert bench.working is not None and bench.working.load == 82.5
    assert calf.ramp == () and calf.working is None
    assert session.remarks == ("Calf raise has 6 working sets; 3 to 5 are usual.",)
    assert session.general is not None and len(session.general.steps) == 5


def test_the_maximum_is_the_given_one_or_from_a_set_or_from_the_line(filled_store: Store) -> None:
    squats(filled_store)
    given, line, tested = parts_of(filled_store, CLEAN, SQUAT, BENCH)
    assert given.maximum is not None and (given.maximum.value, given.maximum.source) == (
        95,
        "given",
    )
    assert tested.maximum is not None and tested.maximum.source == "set"
    # 80 kg by Brzycki 80 x 36 / 31, by Epley 80 x 36 / 30.
    assert tested.maximum.value == tested.maximum.low == pytest.approx(80 * 36 / 31)
    assert tested.maximum.high == pytest.approx(96.0)
    assert line.maximum is not None and line.maximum.source == "line"
    own = line.own_line
    assert own is not None and (own.line.sets, own.line.days, own.line.day_sets) == (6, 2, 3)
    assert own.day == DAY
    assert own.maximum.median == pytest.approx((own.line.level - 0.24) / -own.line.slope)
    assert own.work_from.median == pytest.approx(STRENGTH_SHARE * own.maximum.median)
    assert own.maximum.low < own.maximum.median < own.maximum.high
    sentence = bar_speed_words.line_sentences(own, "kg")[0]
    assert "6 sets on 2 days, the level that of 2 March 2026 (3 sets)" in sentence
    assert "0.24 ± 0.06\u00a0m/s (Banyard 2017, 17 men)" in sentence
    assert "The bar moves at 0.70\u00a0m/s with" in bar_speed_words.target_sentence(own, 0.7, "kg")
    assert "never reaches 6 m/s" in bar_speed_words.target_sentence(own, 6.0, "kg")


def test_a_plan_in_pounds_reads_sets_in_pounds(filled_store: Store) -> None:
    squats(filled_store)
    kilos = parts_of(filled_store, SQUAT)[0].own_line
    in_pounds = replace(PLAN, load_unit="lb", bar_load=45.0, plates="45;25;10;5;2.5")
    number = planned(filled_store, replace(SQUAT, load=225.0), plan=in_pounds)
    [part] = session_parts(filled_store, number).parts
    assert kilos is not None and part.own_line is not None
    assert to_kg(part.own_line.maximum.median, "lb") == pytest.approx(kilos.maximum.median)
    assert part.working is not None and part.working.each_side == (45, 45)
    assert from_kg(to_kg(225.0, "lb"), "lb") == pytest.approx(225.0)


def test_one_set_is_read_by_published_lines(filled_store: Store) -> None:
    add_lifted_set(filled_store, "A1", "back_squat", DAY, 100.0, 0.75, "carl")
    [part] = parts_of(filled_store, SQUAT)
    sentences = words.part_sentences(part, "kg")
    assert "The maximum is not known" in sentences[0]
    assert "is about 57\u00a0% of the maximum in a parallel squat" in sentences[1]
    assert "mean speed of a bar that nobody described (Naclerio" in sentences[1]
    assert "make loads look too heavy" in sentences[1]
    assert "coefficients from memory" not in sentences[1]
    assert "The line of a full squat" in sentences[2] and "it is not read here" in sentences[2]
    assert "of mean propulsive speed of a guided bar" in sentences[2]
    assert "A line needs 3 sets or more. There are 1." in sentences[3]


@pytest.mark.parametrize(
    ("kind", "bar", "read"),
    [
        ("mean", "free", ["parallel"]),
        ("mean propulsive", "guided", ["full"]),
        ("mean propulsive", "free", []),
        ("peak", "guided", []),
    ],
)
def test_a_published_line_is_read_where_speed_and_bar_match(
    filled_store: Store, kind: str, bar: str, read: list[str]
) -> None:
    add_lifted_set(filled_store, "A1", "back_squat", DAY, 100.0, 0.75, "carl", kind, bar)
    [part] = parts_of(filled_store, SQUAT)
    told = bar_speed_words.published_sentences(part, "kg")
    assert len(told) == 2
    assert [each for each in ("parallel", "full") if f"in a {each} squat" in " ".join(told)] == read


def test_a_line_uses_one_kind_of_speed_and_one_bar(filled_store: Store) -> None:
    squats(filled_store)
    add_lifted_set(filled_store, "A1", "back_squat", DAY, 70.0, 0.95, "carl", "mean", "guided")
    [part] = parts_of(filled_store, SQUAT)
    assert part.own_line is None
    assert "left out of the line: 6." in part.remarks[0]
    add_lifted_set(filled_store, "A1", "back_squat", DAY, 70.0, 1.5, "carl", "peak", "free")
    [part] = parts_of(filled_store, SQUAT)
    assert part.own_line is None and part.remarks[0].startswith("No line from peak speeds")


@pytest.mark.parametrize(
    ("plan", "exercise", "said"),
    [
        (PLAN, replace(SQUAT, load=15.0), "The bar alone weighs 20; a load of 15"),
        (PLAN, replace(SQUAT, one_repetition_max=100.0), "above the one-repetition maximum of 100"),
        (replace(PLAN, plates="20 x 1"), SQUAT, "All plates together make 60"),
        (replace(PLAN, plates="20 and 10"), SQUAT, "'20 and 10' is no plate. Write plates such as"),
    ],
)
def test_a_load_that_cannot_be_made_is_explained_beside_the_exercise(
    filled_store: Store, plan: SessionPlan, exercise: PlannedExercise, said: str
) -> None:
    [part] = session_parts(filled_store, planned(filled_store, exercise, plan=plan)).parts
    assert part.ramp == () and any(said in remark for remark in part.remarks)


def test_plates_are_read_as_people_write_them() -> None:
    barbell = barbell_of(20.0, "20 x 2; 10;2,5*1;")
    assert barbell.pairs == ((20.0, 2), (10.0, 12), (2.5, 1))
    assert each_side_text((20.0, 2.5)) == "20 + 2.5" and each_side_text(()) == "bar alone"
    with pytest.raises(BadInput, match="'-5' is no plate"):
        barbell_of(20.0, "-5")
    with pytest.raises(BadInput, match="A plate weighs more than 0"):
        barbell_of(20.0, "0")


def test_each_purpose_says_what_counts_as_work(filled_store: Store) -> None:
    light, day, jump, growth = parts_of(
        filled_store,
        replace(SQUAT, load=60.0, one_repetition_max=120.0),
        replace(BENCH, one_repetition_max=100.0, load=84.0),
        PlannedExercise("loaded_jump", "power", False, True, 3, 4, 40.0, 100.0),
        replace(SQUAT, goal="growth", load=60.0, one_repetition_max=120.0),
    )
    told = {part.name: words.part_sentences(part, "kg") for part in (light, day, jump)}
    assert "The working load lies outside of that." in told["Back squat"]
    assert "from 80.8\u00a0kg: 70\u00a0% of the maximum, and within 5" in told["Bench press"][1]
    assert "at 30 to 60\u00a0% of the maximum, 30\u00a0kg to 60\u00a0kg" in told[jump.name][1]
    assert "outside" not in " ".join(told[jump.name] + told["Bench press"])
    assert "before failure" in " ".join(words.part_sentences(growth, "kg"))
    assert words.work_sentence(growth.planned, "kg").startswith("muscle growth: 4 sets")


def test_a_curve_speaks_for_its_own_kind_of_effort(filled_store: Store) -> None:
    jumps = replace(PLAN, measure="jump_height")
    session = session_parts(filled_store, planned(filled_store, CLEAN, SQUAT, plan=jumps))
    [told] = words.curve_sentences(session)
    assert "speaks of its own kind of effort only" in told and "begins best" not in told
    jump = PlannedExercise("countermovement_jump", "power", False, False, 3, 3)
    session = session_parts(filled_store, planned(filled_store, SQUAT, jump, plan=jumps))
    [told] = words.curve_sentences(session)
    assert "countermovement jump begins after" in told
    # Its own 20 jumps count towards the day's 25.
    many = replace(jump, working_sets=4, repetitions=5)
    long = planned(filled_store, SQUAT, many, plan=replace(jumps, athlete="A1"))
    advice = session_parts(filled_store, long).advice
    assert advice is not None and advice.volume <= 5.0 < advice.length.wanted
    assert (
        session_parts(
            filled_store, planned(filled_store, replace(CALF, exercise="back_squat"), plan=jumps)
        ).advice
        is None
    )


def test_the_curve_needs_an_athlete_and_a_fit(filled_store: Store) -> None:
    nobody = replace(PLAN, athlete=None, measure="jump_height")
    session = session_parts(filled_store, planned(filled_store, SQUAT, plan=nobody))
    assert words.curve_sentences(session) == [
        "The curve of jump height needs an athlete: choose one above."
    ]
    somebody = replace(PLAN, measure="throw_speed")
    throw = PlannedExercise("overarm_throw", "speed", False, False, 3, 3)
    session = session_parts(filled_store, planned(filled_store, throw, plan=somebody))
    assert "There is no curve of throw speed" in words.curve_sentences(session)[0]


def test_an_exercise_without_load_builds_up_by_effort(filled_store: Store) -> None:
    run = PlannedExercise("acceleration_sprint", "speed", False, False, 3, 3)
    first, second = parts_of(filled_store, run, replace(run, exercise="flying_sprint"))
    assert "2 at about 60\u00a0%" in words.own_sentence(first)
    told = words.own_sentence(second)
    assert told.startswith("**A shorter build-up.** It is at maximal speed")
    assert "75\u00a0% and 1 at 90\u00a0% of full effort" in told
    session = session_parts(filled_store, planned(filled_store, run))
    assert session.general is not None and "8 to 15 are usual" in session.general.unusual


def test_the_sheet_holds_the_plan_and_is_always_the_same_bytes(filled_store: Store) -> None:
    number = planned(filled_store, CLEAN, CALF)
    content = session_sheet(filled_store, number)
    assert content == session_sheet(filled_store, number)
    pages = pypdfium2.PdfDocument(io.BytesIO(content))
    text = "\n".join(page.get_textpage().get_text_range() for page in pages)
    for said in (
        "Lower body, Monday 2 March 2026",
        "For Long One.",
        "General part, 6 minutes",
        "1. Power clean power: 3 sets of 2 at 80 kg",
        "25 + 5",
        "2. Calf raise muscle growth: 6 sets of 12",
        "Before the first working set",
        "it gives no medical advice",
    ):
        assert said in text
    assert "travel" not in text
    with pytest.raises(BadInput, match="There is no session plan 99"):
        session_sheet(filled_store, 99)


def press(application: AppTest, label: str) -> AppTest:
    next(each for each in application.button if each.label == label).click()
    return application.run()


def test_a_plan_is_made_on_the_page(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "carl", "session_plan")
    press(application, "Save the session")
    assert "needs a name" in told(application)
    application.text_input(key="plan_None_0_name").set_value("Heavy day")
    application.selectbox(key="plan_None_0_For").set_value("A1")
    press(application, "Save the session")
    [number] = list_session_plans(filled_store)["session_plan_id"]
    added = f"added_{number}_1"
    press(application, "Save the exercise")
    assert "Choose the exercise first" in told(application)
    application.selectbox(key=f"{added}_exercise").set_value("back_squat")
    application.number_input(key=f"{added}_load").set_value(100.0)
    application.number_input(key=f"{added}_maximum").set_value(120.0)
    press(application, "Save the exercise")
    text = told(application)
    assert "**1. Back squat**, strength: 3 sets of 5 at 100\u00a0kg".replace("\u00a0", " ") in text
    assert "It comes first: as much as it takes to move well." in text
    assert application.table[1].value["load, kg"].tolist()[-1] == "100"
    for what in ("joints", "positions", "fresh", "peak"):
        application.checkbox(key=f"ready_{number}_{what}").check().run()
    assert readiness(filled_store, number) == Readiness(True, True, True, True)
    assert words.READY in told(application)
    assert not application.exception


def test_everybody_lifts_the_same_share_of_their_own_maximum(filled_store: Store) -> None:
    number = planned(filled_store, CLEAN, replace(SQUAT, one_repetition_max=137.5))
    session = session_parts(filled_store, number)
    assert [part.name for part in loaded(session)] == ["Power clean", "Back squat"]
    own = own_session(session, "A2", {"back_squat": 100.0})
    clean, squat = own.exercises
    assert clean.load is None and clean.one_repetition_max is None
    # 80 % of 100 kg, as the plates make it.
    assert (squat.load, squat.one_repetition_max) == (80.0, 100.0)
    for _ in range(2):
        save_sessions(filled_store, session.plan, [own], "carl")
    listed = list_session_plans(filled_store)
    assert sorted(listed["athlete"]) == ["A1", "A2"], "saved again, it is still one plan"
    assert known_maxima(filled_store, "kg")["A2"] == {"back_squat": 100.0}
    pounds = known_maxima(filled_store, "lb")["A2"]["back_squat"]
    assert pounds == pytest.approx(220.5, abs=0.05)


def test_loads_of_a_squad_are_shown_and_saved_on_the_page(
    filled_store: Store, sign_in: SignIn
) -> None:
    number = planned(filled_store, replace(SQUAT, one_repetition_max=137.5))
    application = sign_in(filled_store, "carl", "session_plan")
    assert "Everybody lifts the same share: Back squat 80 %." in told(application)
    shown = next(table.value for table in application.table if "Back squat, kg" in table.value)
    assert shown["Back squat, kg"].tolist() == ["110"]
    application.button(key=f"squad_{number}").click().run()
    assert not application.exception
    assert "1 plan saved" in told(application)


def test_an_exercise_without_its_own_build_up_has_no_build_up_sets(filled_store: Store) -> None:
    light = replace(SQUAT, exercise="bent_over_row", goal="growth", load=40.0)
    heavy = replace(light, load=90.0, one_repetition_max=100.0)
    number = planned(filled_store, SQUAT, CLEAN, light, heavy, replace(light, load=60.0))
    for part in session_parts(filled_store, number).parts:
        none = "No build-up of its own" in words.own_sentence(part)
        built = (words.ramp_table(part, "kg")["set"] == "build-up").any()
        assert not (none and built), part.name


def test_the_form_stays_open_for_the_next_exercise(filled_store: Store, sign_in: SignIn) -> None:
    number = planned(filled_store, SQUAT)
    application = sign_in(filled_store, "carl", "session_plan")

    def is_open() -> bool:
        [form] = [each for each in application.expander if each.label == "Add an exercise"]
        return bool(form.proto.expanded)

    assert not is_open()
    application.selectbox(key=f"added_{number}_0_exercise").set_value("power_clean")
    [*_, save] = [each for each in application.button if each.label == "Save the exercise"]
    save.click().run()
    assert len(planned_exercises(filled_store, number)) == 2
    assert is_open()


def test_a_plan_is_changed_copied_and_deleted_on_the_page(
    filled_store: Store, sign_in: SignIn
) -> None:
    number = planned(filled_store, SQUAT, CLEAN)
    application = sign_in(filled_store, "carl", "session_plan")
    assert "Power clean is for power and stands after Back squat" in told(application)
    application.button(key=f"exercise_{number}_1_0_up").click().run()
    assert planned_exercises(filled_store, number) == [CLEAN, SQUAT]
    application.number_input(key="speed_back_squat_1_load").set_value(60.0)
    application.number_input(key="speed_back_squat_1_value").set_value(0.9)
    next(b for b in reversed(application.button) if b.label == "Add the set").click().run()
    assert lifted_sets(filled_store, "A1", "back_squat", DAY)["load_kg"].tolist() == [60.0]
    application.button(key="speed_back_squat_2_strike").click().run()
    assert lifted_sets(filled_store, "A1", "back_squat", DAY).empty
    application.button(key="session_copy").click().run()
    assert list_session_plans(filled_store)["name"].tolist() == ["Lower body (copy)", "Lower body"]
    application.button(key="session_delete").click().run()
    assert list_session_plans(filled_store)["session_plan_id"].tolist() == [number]
    assert not application.exception


def test_an_exercise_is_added_and_a_file_brought(filled_store: Store, sign_in: SignIn) -> None:
    application = sign_in(filled_store, "carl", "exercises")
    press(application, "Save the exercise")
    assert "cannot be a code" in told(application)
    application.text_input(key="exercise_None_0_code").set_value("sled_push")
    application.multiselect(key="exercise_None_0_joints").set_value(["knee", "ankle"])
    press(application, "Save the exercise")
    kept = list_exercises(filled_store).set_index("exercise")
    assert kept.loc["sled_push", "joints"] == "ankle;knee"
    content = b"exercise,name\nsled_push,Sled push\n"
    application.file_uploader[0].upload("library.csv", content)
    application.run()
    application.button(key="store_exercises").click().run()
    assert "library.csv is saved." in told(application)
    assert (
        list_exercises(filled_store).set_index("exercise").loc["sled_push", "name"] == "Sled push"
    )
    assert not application.exception
