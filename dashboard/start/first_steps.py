"""The first steps of a new store, on the home page of director and coach until all are done."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import streamlit as st

from dashboard.core.numbers import counted
from dashboard.screen import doing, elements
from dashboard.screen.menu import file_of
from dashboard.screen.reads import ask, own_store
from dashboard.start.missing import missing
from dashboard.start.step_forms import (
    ask_club,
    ask_data,
    ask_measure,
    ask_squad,
    ask_standard,
)
from db.people.accounts import Person
from db.people.first_run import FirstRun, first_run, mark_picture_read, skip_step

ABOUT_PAGE = file_of("about")
HOW_TO_READ = {
    "director": "Each line is an athlete. The mark is the most likely best volume; the thick line"
    " holds half of what is plausible, the thin one 90\u00a0%. The vertical line is what the team"
    " does today: athletes to the left of it should stop sooner, those to the right should warm up"
    " longer. Hollow means not known yet; a test would tell.",
    "coach": "Open an athlete. The curve rises with warming up, peaks and falls; the band around"
    " it holds 90\u00a0% of what is plausible. The dashed line is what the team does today, and the"
    " arrow is what is lost by that.",
}


@dataclass(frozen=True)
class Step:
    """One of the first steps.

    Attributes
    ----------
    key, title : str
        The store's key for it, and its title on the page.
    done : bool
        Whether it is done, or no longer needed because there are efforts.
    state : str
        What there is so far, in words.
    act : callable
        Shows the form for it.
    again : str
        Script of the page where it can be done later.
    """

    key: str
    title: str
    done: bool
    state: str
    act: Callable[[Person, FirstRun], None]
    again: str


def steps(run: FirstRun, role: str) -> list[Step]:
    """Return the first steps of a director or coach, in order."""
    begun = run.efforts > 0
    listed = [
        Step("club", "Who are you?", begun or run.club_named, "", ask_club, "measures"),
        Step(
            "measure",
            "What do you measure?",
            begun or bool(run.measure) or run.standards > 0,
            "",
            ask_measure,
            "measures",
        ),
        Step(
            "standard",
            "How do you warm up today?",
            begun or run.standards > 0,
            f"{counted(run.standards, 'measure')} with a standard volume"
            if run.standards
            else "not set: what sessions usually have is used",
            ask_standard,
            "measures",
        ),
        Step(
            "squad",
            "Who is in the squad?",
            run.athletes > 0,
            counted(run.athletes, "athlete"),
            ask_squad,
            "people",
        ),
        Step(
            "data",
            "The first data",
            begun,
            f"{counted(run.efforts, 'effort')} of {counted(run.measured, 'athlete')}",
            ask_data,
            "import_efforts",
        ),
    ]
    return listed if role == "director" else listed[1:]


def show_first_steps(person: Person) -> None:
    """Show the first steps and their states while any is left, with the next one open.

    After them it shows what is missing for the first curve, and then, once, how to read it.
    Without efforts there is nothing else to show, so the page ends here.
    """
    run = ask(first_run)
    if person.limited and not run.athletes:
        st.stop()  # the notice above every page says what is missing
    listed = steps(run, person.role)
    left = [step for step in listed if not step.done and step.key not in run.skipped]
    if left or not run.efforts or (run.fits and not run.picture_read and run.fits < 2):
        doing.show_said()
        with st.container(border=True):
            if left:
                _show_steps(person, run, listed, left)
            elif not run.efforts:
                _show_missing()
            else:
                _show_reading(person)
    if not run.efforts:
        st.stop()


def _show_steps(person: Person, run: FirstRun, listed: list[Step], left: list[Step]) -> None:
    st.header(f"First steps: {len(listed) - len(left)} of {len(listed)} done")
    elements.quiet(
        "Five small steps to the first picture; each can be skipped, and is found again later."
        if person.role == "director"
        else "Small steps to the first picture; each can be skipped."
    )
    for number, step in enumerate(listed, start=1):
        if step is left[0]:
            st.markdown(f":material/arrow_forward: **{number}. {step.title} Next**")
            step.act(person, run)
            if st.button("Skip this", key=f"first_skip_{step.key}"):
                doing.do(
                    f"Skipped. {again_words(step, person.role)}",
                    partial(skip_step, own_store(), run.skipped, step.key, person.person),
                )
        elif step.done:
            state = f": {step.state}" if step.state else ""
            st.markdown(f":material/check: {number}. {step.title} Done{state}")
        else:
            skipped = " Skipped" if step.key in run.skipped else ""
            elements.quiet(f"{number}. {step.title}{skipped}")


def again_words(step: Step, role: str) -> str:
    """Return where to find a step again that was skipped."""
    if step.again == "import_efforts":
        return "You find it again under Data."
    if role != "director":
        return "Your director finds it under Club."
    return f"You find it again under Club, {'Measures' if step.again == 'measures' else 'People'}."


def _show_missing() -> None:
    st.header("What is missing to the first curve")
    for lack in ask(missing):
        with st.container(horizontal=True, vertical_alignment="center"):
            st.write(lack.sentence)
            st.page_link(file_of(lack.script), label=lack.label, width="content")


def _show_reading(person: Person) -> None:
    st.header("How to read it")
    st.write(HOW_TO_READ[person.role])
    with st.container(horizontal=True):
        st.page_link(ABOUT_PAGE, label="What the words mean")
        if person.role == "coach":
            st.page_link(elements.ATHLETE_PAGE, label="Open an athlete")
        if st.button("I have read it", key="first_picture_read"):
            mark_picture_read(own_store(), person.person)
            st.rerun()
