"""The first steps of a new store, on the home of director and coach until all are done."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import isfinite

import pandas as pd
import streamlit as st

from dashboard.core import terms
from dashboard.core.numbers import counted
from dashboard.fits.background_fits import fits_under_way
from dashboard.fits.own_accord import curves_come_by_themselves
from dashboard.rules.club_limits import HIGHEST_MOST, most_allowed, set_most_allowed
from dashboard.rules.measure_kinds import measure_code
from dashboard.screen import doing, elements, selection
from dashboard.screen.menu import file_of
from dashboard.screen.reads import ask, own_store
from db.errors import BadInput
from db.people.accounts import Person
from db.people.first_run import FirstRun, first_run, mark_picture_read
from db.roster.athletes import save_athletes
from db.roster.measures import BETTER, Measure, save_measure

ABOUT_PAGE = file_of("about")
SAMPLE_ADDRESS = "/download/sample-efforts.csv"
NEW_MEASURE = "A new one"
HOW_TO_READ = {
    "director": "Every line is an athlete. The mark is the most likely best volume, the thick line"
    " holds half and the thin line 90\u00a0% of what is plausible. The line from top to bottom is"
    " what the team does today: whoever lies left of it should stop sooner, whoever lies right of"
    " it should warm up longer. Hollow: not known yet, which is no fault; a test would tell.",
    "coach": "Open an athlete. The curve rises with warming up, peaks and falls; the band around"
    " it holds 90\u00a0% of what is plausible. The dashed line is what the team does today, and the"
    " arrow is what is lost by that.",
}


@dataclass(frozen=True)
class Step:
    """One of the first steps: what it is, whether it is done, what there is, what does it."""

    title: str
    done: bool
    state: str
    act: Callable[[Person], None]


def steps(run: FirstRun, role: str) -> list[Step]:
    """Return the first steps of a director or coach, in their order."""
    read = {"director": "Read the squad picture", "coach": "Read an athlete's curve"}
    return [
        Step(
            "Say what you test and how you warm up today",
            run.standards > 0 or run.efforts > 0,
            f"{counted(run.standards, 'measure')} with a standard volume"
            if run.standards
            else "what sessions usually have stands for it",
            _act_on_measure,
        ),
        Step("Add athletes", run.athletes > 0, counted(run.athletes, "athlete"), _act_on_athletes),
        Step(
            "Import or type efforts",
            run.efforts > 0,
            f"{counted(run.efforts, 'effort')} of {counted(run.measured, 'athlete')}",
            _act_on_efforts,
        ),
        Step("Work out the curves", run.fits > 0, counted(run.fits, "fit"), _act_on_fit),
        Step(read[role], run.picture_read or run.fits > 1, "", _act_on_picture),
    ]


def show_first_steps(person: Person) -> None:
    """Show the first steps with their states while one of them is left, the next one open.

    Without any efforts there is nothing else to show, and the page ends here.
    """
    run = ask(first_run)
    if person.limited and not run.athletes:
        st.stop()  # the notice above every page says what is missing
    listed = steps(run, person.role)
    left = [step for step in listed if not step.done]
    if not left:
        return
    doing.show_said()
    with st.container(border=True):
        st.header(f"First steps: {len(listed) - len(left)} of {len(listed)} done")
        elements.quiet("Two minutes to the first picture. This list disappears when all is done.")
        for number, step in enumerate(listed, start=1):
            if step.done:
                st.markdown(f":material/check: {number}. {step.title}: done, {step.state}")
            elif step is left[0]:
                st.markdown(f":material/arrow_forward: **{number}. {step.title}: next**")
                step.act(person)
            else:
                elements.quiet(f"{number}. {step.title}")
    if not run.efforts:
        st.stop()


def _act_on_measure(person: Person) -> None:
    known = selection.measures_by_code()
    chosen = st.selectbox(
        "Measure",
        [*known, NEW_MEASURE],
        format_func=lambda code: known[code].name if code in known else code,
        key="first_measure",
        help=terms.meaning("measure"),
    )
    with st.form("first_measure_form"):
        measure = known[chosen] if chosen in known else _ask_new_measure()
        standard = st.number_input(
            f"Standard: {measure.volume_unit} in the team's warm-up today",
            0.0,
            500.0,
            None,
            1.0,
            format="%g",
            key="first_standard",
            help=terms.meaning("standard"),
        )
        usual = ask(most_allowed, measure)
        most = st.number_input(
            f"Most {measure.volume_unit} before a start, and in a day",
            1.0,
            HIGHEST_MOST,
            usual if isfinite(usual) else None,
            1.0,
            format="%g",
            key="first_most",
            help="Nobody is told to do more maximal efforts than this, and under 18 at most six"
            " tenths of it (usual: common practice).",
        )
        asked = st.form_submit_button("Save it")
    if asked:

        def save() -> None:
            kept = _with_standard(measure, standard)
            save_measure(own_store(), kept, person.person)
            if most is not None and most != usual:
                set_most_allowed(own_store(), kept, most, person.person)

        doing.do(f"{measure.name or 'The measure'} is set.", save)


def _ask_new_measure() -> Measure:
    name = st.text_input("Name", placeholder="Long jump, standing", key="first_name")
    unit = st.text_input("Unit of a value", "cm", max_chars=20)
    better = st.selectbox("Better is", BETTER)
    return Measure(measure_code(name), name.strip(), unit.strip(), better)


def _with_standard(measure: Measure, standard: float | None) -> Measure:
    if standard is None:
        raise BadInput("Say roughly how much the team does today; it can be changed later.")
    if not measure.name:
        raise BadInput("The measure needs a name.")
    return replace(measure, standard_volume=standard)


def _act_on_athletes(person: Person) -> None:
    key = f"first_athlete_{doing.turn()}"
    with st.form(key):
        code = st.text_input(
            "Code in files, of your own", placeholder="A1", max_chars=40, key=f"{key}_code"
        )
        name = st.text_input("Name", placeholder="as it is shown", max_chars=80, key=f"{key}_name")
        asked = st.form_submit_button("Add the athlete")
    if asked:
        row = pd.DataFrame([{"athlete": code.strip(), "name": name.strip()}])
        doing.do(
            f"{name.strip() or code.strip()} is added.",
            lambda: save_athletes(own_store(), row, person.person),
        )
    st.page_link(elements.IMPORT_PAGE, label="Import a file of all athletes")


def _act_on_efforts(person: Person) -> None:
    st.write(
        "Three athletes with a fade test each are a good start. A file has a row for each effort;"
        " the sample holds an invented squad's, to look at or to try."
    )
    with st.container(horizontal=True):
        st.page_link(elements.IMPORT_PAGE, label="Import a file of efforts")
        st.page_link(elements.ENTER_PAGE, label="Type a session")
        st.page_link(elements.RUN_PAGE, label="Run a test now")
        if not person.limited:
            st.page_link(elements.IMPORT_PAGE, label="More athletes, from a file")
        st.link_button("Sample file of efforts (CSV)", SAMPLE_ADDRESS, key="sample_efforts")


def _act_on_fit(_person: Person) -> None:
    if fits_under_way() or curves_come_by_themselves():
        st.write("This goes on by itself, see below.")
        return
    st.write("Press 'Work out the curves' below. It takes seconds, for a large squad a minute.")


def _act_on_picture(person: Person) -> None:
    st.write(HOW_TO_READ[person.role])
    with st.container(horizontal=True):
        st.page_link(ABOUT_PAGE, label="What the words mean")
        if person.role == "coach":
            st.page_link(elements.ATHLETE_PAGE, label="Open an athlete")
        if st.button("I have read it", key="first_picture_read"):
            mark_picture_read(own_store(), person.person)
            st.rerun()
