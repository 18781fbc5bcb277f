"""Parts that several pages share: choosing a measure or an athlete, notices, curves."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

import pandas as pd
import streamlit as st

from dashboard import (
    account_words,
    day_words,
    numbers,
    pictures,
    tables,
    terms,
    units,
    view_notes,
    words,
)
from dashboard.background_fits import fit_stage
from dashboard.fitting import fit_measure
from dashboard.numbers import Row
from dashboard.palette import Palette, palette_of
from dashboard.reads import ask, measures_in_use
from dashboard.usual_terms import curves, placed_efforts, usual_terms
from dashboard.web_sessions import running_store
from db.efforts.rows import data_summary
from db.errors import StoreError
from db.fits.results import KeptFit, concluded, newer_data
from db.imports.storing import ImportCheck
from db.people.accounts import Person
from db.roster.athletes import list_athletes
from db.roster.measures import Measure, list_measures
from db.tables.limits import Progress

FOLLOW_SECONDS = 0.5
SHOWN_ROWS = 20

SAID, TURN = "said_of_last_run", "turn"
ATHLETE_PAGE = "app_pages/athlete.py"
BEFORE_PAGE = "app_pages/before_session.py"
ENTER_PAGE = "app_pages/enter_efforts.py"
IMPORT_PAGE = "app_pages/import_efforts.py"
RUN_PAGE = "app_pages/run_test.py"


def screen_palette() -> Palette:
    """Return the colours for the screen that looks at the page."""
    return palette_of(st.context.theme.type)


def on_phone() -> bool:
    """Tell whether the browser says that it runs on a phone."""
    return "Mobi" in st.context.headers.get("User-Agent", "")


OPEN_PAGE, TOLD = "open_page", "told_address"
"""Where the session keeps the page that is open, and the choices that its address was told."""


def choose(
    label: str, labels: Mapping[str, str], key: str, usual: str = "", meaning: str | None = None
) -> str:
    """Let the reader choose one of some codes by its label; the address of the page tells the code.

    Streamlit's own binding would write labels there, and so people's names into the history of
    browsers and the logs of proxies. What the address asks for and is not offered is passed over.
    """
    usual = usual or next(iter(labels))
    wanted: list[str] = [st.query_params.get(key, ""), st.session_state.get(key, ""), usual]
    chosen = next(code for code in wanted if code in labels)
    st.session_state[key] = chosen
    st.selectbox(
        label,
        list(labels),
        format_func=labels.__getitem__,
        key=key,
        help=meaning,
        on_change=_tell_address,
        args=(key,),
        persist_state="session",
    )
    # Once for each time the page is opened: who comes back to an address without a choice would
    # otherwise be sent forward again, and never get back to the page before.
    if key not in st.session_state.setdefault(TOLD, set()):
        st.session_state[TOLD].add(key)
        if st.query_params.get(key, usual) != chosen:
            st.query_params[key] = chosen
    return chosen


def came_to(path: str) -> None:
    """Note which page is open, so that one opened anew tells its address what is chosen."""
    if st.session_state.get(OPEN_PAGE) != path:
        st.session_state[OPEN_PAGE] = path
        st.session_state[TOLD] = set()


def choose_several(label: str, labels: Mapping[str, str], key: str, placeholder: str) -> list[str]:
    """Let the reader choose some codes by their labels; the address of the page tells the codes."""
    asked = [code for code in st.query_params.get_all(key) if code in labels]
    if asked:
        st.session_state[key] = asked
    return st.multiselect(
        label,
        list(labels),
        format_func=labels.__getitem__,
        placeholder=placeholder,
        key=key,
        on_change=_tell_address,
        args=(key,),
    )


def _tell_address(key: str) -> None:
    st.query_params[key] = st.session_state[key]


def choose_measure() -> Measure:
    """Let the reader choose among the measures that have data, or all when none has."""
    offered = measures_with_data() or measures_by_code()
    names = {code: measure.name for code, measure in offered.items()}
    return offered[choose("Measure", names, "measure", meaning=terms.meaning("measure"))]


def measures_by_code() -> dict[str, Measure]:
    """Return every measure, those that have data first."""
    others = {each.code: each for each in ask(list_measures)}
    return measures_with_data() | others


def measures_with_data() -> dict[str, Measure]:
    """Return the measures that have usable efforts or curves."""
    return {each.code: each for each in ask(measures_in_use)}


def quiet(text: str) -> None:
    """Show text that stands back but stays legible: Streamlit's captions are too pale for that."""
    st.markdown(f":small[:gray[{text}]]", width="content")


def bullets(sentences: Iterable[str]) -> None:
    """Show sentences as a list, with what their words mean; empty ones are left out."""
    text = "\n".join(f"- {sentence}" for sentence in sentences if sentence)
    st.markdown(text, help=terms.explained(text))


def athlete_labels(active_only: bool = True) -> dict[str, str]:
    """Return the name of every athlete by code; a name that two share carries the code."""
    people = ask(list_athletes, active_only=active_only).sort_values("name")
    doubled = people["name"].duplicated(keep=False)
    labels = people["name"].where(~doubled, people["name"] + " (" + people["athlete"] + ")")
    return dict(zip(people["athlete"], labels, strict=True))


def choose_athlete(names: Mapping[str, str]) -> str:
    """Let the reader choose one of some athletes.

    Without any it says how athletes come into the store, and the page ends.
    """
    if not names:
        no_athletes_yet()
        st.stop()
    athlete = choose("Athlete", names, "athlete")
    view_notes.note_view_today(athlete)
    return athlete


def link_to(script: str, label: str, chosen: Mapping[str, str | list[str]]) -> None:
    """Show a link to a page that opens with something chosen, such as an `athlete` by code."""
    st.page_link(f"app_pages/{script}.py", label=label, query_params=dict(chosen), width="stretch")


def no_athletes_yet() -> None:
    """Say how athletes come into the store."""
    st.info(
        "There are no athletes yet. Import a file of athletes, or a file of efforts and let the"
        " import add the athletes in it."
    )
    st.page_link(IMPORT_PAGE, label="Import a file")


def no_efforts_yet(measure: Measure) -> bool:
    """Say how efforts of a measure come into the store; tell whether there are none."""
    if (ask(data_summary)["measure"] == measure.code).any():
        return False
    st.info(
        f"There are no efforts of {measure.name.lower()} yet. Import a file of efforts, or"
        " enter a session: three athletes with a fade test each are a good start."
    )
    ways_to_enter()
    return True


def ways_to_enter() -> None:
    """Offer the pages by which efforts come into the store."""
    with st.container(horizontal=True):
        st.page_link(IMPORT_PAGE, label="Import a file")
        st.page_link(ENTER_PAGE, label="Enter a session")


def no_curves_yet(person: Person, measure: Measure) -> None:
    """Say what to do while there is no fit: collect data, or work the curves out."""
    if no_efforts_yet(measure):
        return
    if follow_fit(measure):
        return
    summary = ask(data_summary)
    mine = summary[summary["measure"] == measure.code]
    st.info(
        f"{numbers.counted(int(mine['efforts'].sum()), 'effort')} of"
        f" {numbers.counted(len(mine), 'athlete')} are stored. The curves have not been worked"
        " out yet."
    )
    _update_button(person, measure, "Work out the curves")


def follow_fit(measure: Measure) -> bool:
    """Show a fit that runs beside the pages until it is kept; tell whether there is one."""
    stage = fit_stage(measure.code)
    if stage is None:
        return False
    if stage.problem:
        st.error(stage.problem)
        return False
    st.info(words.under_way(measure.name, stage.curves_kept))
    _show_stage(measure.code, stage.curves_kept)
    return True


@st.fragment(run_every=FOLLOW_SECONDS)
def _show_stage(code: str, curves_kept: bool) -> None:
    stage = fit_stage(code)
    if stage is None or stage.problem or stage.curves_kept != curves_kept:
        st.rerun()
    st.progress(stage.share, text=stage.what)


def work_out_again(person: Person, measure: Measure, lacking: str, brings: str) -> None:
    """Say what curves lack that were not worked out to the end, and how they come to it."""
    if follow_fit(measure):
        return
    st.info(
        f"These curves were worked out by an earlier version or stopped early, {lacking}. Work"
        f" them out again to {brings}."
    )
    _update_button(person, measure, "Work out the curves again")


def newer_data_notice(person: Person, measure: Measure, fit: KeptFit) -> None:
    """Say calmly that the curves are older than the data or the settings, with a button."""
    newer = ask(newer_data, measure.code)
    reasons = [words.newer_sentence(newer)] if newer else []
    if measure.standard_volume not in (None, fit.standard_volume):
        reasons.append("The standard volume was changed since.")
    if measure.worthwhile_pct != fit.worthwhile_pct:
        reasons.append("The smallest change worth having was changed since.")
    if not ask(concluded, measure.code) and fit_stage(measure.code) is None:
        reasons.append(words.NOT_CONCLUDED)
    if reasons:
        st.info(" ".join(reasons))
        _update_button(person, measure, "Update the curves")


def _update_button(person: Person, measure: Measure, label: str) -> None:
    if not st.button(label, key="update_curves"):
        return
    try:
        fit_measure(running_store(), measure.code, person.person, progress_bar())
    except StoreError as error:
        st.error(f"{error.title}. {error.message}")
        return
    st.rerun()


def progress_bar() -> Progress:
    """Show a bar and return what moves it: the share done, and what is being done."""
    bar = st.progress(0.0, text="Starting")

    def move(share: float, text: str) -> None:
        bar.progress(share, text=text)

    return move


def show_said() -> None:
    """Show what the page's last run had to say before it ran again."""
    if said := st.session_state.pop(SAID, None):
        st.success(said)


def turn() -> int:
    """Return how often something was done, for the keys of forms that begin afresh then."""
    return int(st.session_state.get(TURN, 0))


def do(said: str, work: Callable[[], object]) -> None:
    """Do what was asked, run again and show that it is done; or say why it was not."""
    try:
        work()
    except StoreError as error:
        st.error(f"{error.title}. {error.message}")
        return
    st.session_state[SAID] = said
    st.session_state[TURN] = turn() + 1
    st.rerun()


def show_import(name: str, check: ImportCheck) -> None:
    """Show what storing a file would do: counts, the first rows set aside, the first to store."""
    st.write(day_words.import_preview(name, check))
    for rows, what in (
        (tables.set_aside(check.set_aside), "set aside, with the line of the file and the reason"),
        (tables.to_store(check.new), "stored"),
    ):
        if not rows.empty:
            quiet(f"The first rows that would be {what}:")
            st.dataframe(
                rows.head(SHOWN_ROWS), hide_index=True, alt=f"The first rows that would be {what}"
            )


def show_curve(row: Row, measure: Measure, fit: KeptFit, to_athlete: bool = False) -> None:
    """Show one athlete's curve: message, how to read it, picture, and the same in words."""
    unit, standard = measure.volume_unit, fit.standard_volume
    st.header(
        words.headline(row, standard, to_athlete),
        help=f"{terms.meaning('call')}\n\n{terms.meaning('curve')}",
    )
    quiet(words.how_to_read_curve(row))
    points = ask(placed_efforts, measure, row["athlete"])
    pictures.show(
        pictures.athlete_figure(
            ask(curves, measure.code, row["athlete"]),
            points.assign(told=units.told(points["value"], measure.unit)),
            row,
            standard,
            unit,
            screen_palette(),
        ),
        key=f"curve_{measure.code}_{row['athlete']}",
        alt=words.curve_in_words(row, standard, unit),
    )
    usual_note(measure)


def usual_note(measure: Measure) -> None:
    """Say in which circumstances the volumes of a page are meant."""
    terms = ask(usual_terms, measure.code)
    if terms is not None:
        quiet(account_words.usual_sentence(terms))


def row_of(rows: pd.DataFrame, athlete: str) -> Row | None:
    """Return one athlete's row as a mapping, or None if there is none."""
    mine: list[Row] = list(rows[rows["athlete"] == athlete].to_dict("records"))
    return mine[0] if mine else None
