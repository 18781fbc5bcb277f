"""Merge two entries of one athlete: say what would move, do it, and undo it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import streamlit as st

from dashboard.core import dates
from dashboard.core.numbers import counted, listed
from dashboard.roster.athlete_table import labels
from dashboard.screen import doing, elements
from dashboard.screen.reads import ask
from dashboard.screen.web_sessions import running_store
from db.errors import BadInput
from db.people.accounts import Person
from db.roster.athlete_changes import Athlete
from db.roster.merging import (
    MergePreview,
    merge_athletes,
    merge_preview,
    merges,
    part_athletes,
)


def merge_form(person: Person, athletes: Sequence[Athlete]) -> None:
    """Ask which two entries are one athlete, say what would move, and merge them."""
    shown, store = labels(athletes), running_store()
    merged = {each.athlete for each in ask(merges)}
    offered = [each.athlete for each in athletes if each.athlete not in merged]
    with st.container(horizontal=True):
        going, staying = (
            st.selectbox(
                label,
                offered,
                None,
                format_func=shown.__getitem__,
                placeholder="Choose",
                key=f"roster_{key}_{doing.turn()}",
            )
            for label, key in (("This entry", "merge_from"), ("is the same as", "merge_into"))
        )
    if going and staying:
        try:
            preview = ask(merge_preview, going, staying)
        except BadInput as error:
            st.error(error.message)
        else:
            st.write(preview_sentence(preview, shown[going], shown[staying]))
            if st.button("Merge them", type="primary", key="roster_merge"):
                doing.do(
                    f"{shown[going]} and {shown[staying]} are one.",
                    lambda: merge_athletes(store, going, staying, person.person),
                )
    else:
        elements.quiet(
            "For an athlete who came in under two codes. Everything goes to the second entry; the"
            " first is kept as one who has left. You can undo it."
        )
    _undo(person, shown)


def _undo(person: Person, shown: dict[str, str]) -> None:
    for each in ask(merges):
        with st.container(horizontal=True, vertical_alignment="center"):
            st.write(
                f"{shown[each.athlete]} went into {shown[each.other_athlete]} on"
                f" {dates.day(each.merged_at.date())}, by {each.person}."
            )
            if st.button("Undo", key=f"roster_part_{each.merge_id}"):
                doing.do(
                    "They are two again.",
                    partial(part_athletes, running_store(), each.merge_id, person.person),
                )


def preview_sentence(preview: MergePreview, going: str, staying: str) -> str:
    """Return what a merge would move."""
    kinds = (
        (preview.sessions, "session"),
        (preview.plans, "plan"),
        (preview.sets, "lifted set"),
    )
    moved = listed([counted(count, what) for count, what in kinds if count])
    verb = "go" if sum(count for count, _ in kinds) > 1 else "goes"
    told = f"{moved or 'Nothing'} of {going} {verb} to {staying}."
    if preview.staying:
        verb = "stays" if preview.staying == 1 else "stay"
        told += (
            f" {counted(preview.staying, 'session')} of the same measure and start {verb} with the"
            " old entry, as both have one."
        )
    if preview.accounts:
        told += f" The account {listed(preview.accounts)} then sees the page of {staying}."
    return told + f" Files that name {going} count for {staying} from then on."
