"""The page of the inbox: files that wait for a person, and what became of earlier ones."""

from __future__ import annotations

import streamlit as st

from dashboard.core import dates
from dashboard.data.chosen_tables import Importing, Saving, show_table, tables_of
from dashboard.inbox.folder import ASIDE, DONE, Handled, handled
from dashboard.inbox.page_words import NONE_WATCHED, NOT_YOURS
from dashboard.inbox.watching import Inbox, running_inbox
from dashboard.screen import doing, elements
from dashboard.screen.access import require
from dashboard.screen.file_choice import ChosenRows
from dashboard.screen.reads import own_store
from db.errors import StoreError
from db.people.accounts import Person

MOST_SHOWN = 20


def show_inbox(person: Person, inbox: Inbox) -> None:
    """Show the files that wait, with their questions, and those already handled."""
    st.write(
        f"Files that appear in `{inbox.folder}` are imported once they are complete, by their own"
        " columns or as a file of the same header was read before."
    )
    waiting = {path.name: (path, why) for path, why in inbox.waiting.items()}
    st.header("Waiting for a person")
    if waiting:
        name = st.selectbox("File", list(waiting), key="inbox_file")
        path, why = waiting[name]
        st.info(why)
        try:
            _show_file(person, ChosenRows(path.read_bytes(), name))
        except OSError:
            st.info("The file is gone from the inbox.")
        except StoreError as error:
            st.error(f"{error.title}. {error.message}")
    else:
        st.write("Nothing waits.")
    _show_handled("Set aside: look at these", handled(inbox.folder, ASIDE, MOST_SHOWN))
    _show_handled("Done", handled(inbox.folder, DONE, MOST_SHOWN))


def _show_file(person: Person, rows: ChosenRows) -> None:
    """Ask what a file does not say, and save it once; then the inbox knows the layout."""
    importing = Importing(own_store(), person, None)
    savings: list[Saving | None] = []
    for place, table in enumerate(tables_of(rows)):
        if table.sheet:
            st.subheader(table.title)
        savings.append(show_table(table, importing, place))
    ready = [saving for saving in savings if saving is not None]
    pressed = st.button(
        "Save it, and read the next file of this layout the same way",
        type="primary",
        key="inbox_save",
        disabled=len(ready) < len(savings),
    )
    if pressed:

        def save() -> None:
            for saving in ready:
                saving(elements.progress_bar())

        doing.do(f"{rows.name} is saved. The inbox moves it in a moment.", save)


def _show_handled(title: str, files: list[Handled]) -> None:
    if not files:
        return
    st.header(title)
    for each in files:
        with st.expander(f"{each.name}, {dates.moment(each.at)}"):
            st.text(each.report)


person = require("director", "coach")
st.title("Inbox")
doing.show_said()
inbox = running_inbox()
if person.limited:
    st.info(NOT_YOURS)
elif inbox is None:
    st.info(NONE_WATCHED)
else:
    show_inbox(person, inbox)
