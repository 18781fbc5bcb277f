"""The director's week: what changed, what the plans brought, and what to do about it."""

from __future__ import annotations

from datetime import date

import streamlit as st

from dashboard.core import columns
from dashboard.core.estimates_figure import estimates_figure
from dashboard.screen import elements, notices, pictures, selection, units
from dashboard.screen.access import require
from dashboard.screen.menu import at
from dashboard.screen.reads import ask
from dashboard.week import curve_words, words
from dashboard.week.fit_moments import Week
from dashboard.week.report import known_weeks, newest_week, week_report
from dashboard.week.sections import Item, Link, Section, week_label

BEFORE = "before"

person = require("director")
st.title("This week")
with st.container(horizontal=True):
    measure = selection.choose_measure()
    today = date.today()
    known = {str(each.first): each for each in ask(known_weeks, measure.code, today)}
    labels = {day: week_label(each) for day, each in known.items()}
    newest = str(ask(newest_week, measure.code, today).first)
    week = known[selection.choose("Week", labels, "week", newest)]
    others = {BEFORE: "the week before"} | {
        day: label for day, label in labels.items() if day != str(week.first)
    }
    compared = selection.choose("Against", others, "week_against")
against = week.before if compared == BEFORE else Week(date.fromisoformat(compared))
report = ask(week_report, measure.code, week.first, against.first)
if report is None:
    notices.no_curves_yet(person, measure)
    st.stop()
notices.newer_data_notice(person, measure, report.fit)
notices.follow_fit(measure)


def link(to: Link) -> None:
    """Show a link to a page."""
    elements.link_to(to.script, to.label, to.query)


def show_item(item: Item) -> None:
    """Show what an item says, beside a link to where it can be acted on."""
    where, text = st.columns([1, 4], vertical_alignment="center")
    with where:
        link(item.link)
    text.write(item.text)


def show(section: Section) -> None:
    """Show a section: what it says, its items, and the pages that hold more."""
    st.header(section.title)
    st.write(" ".join(section.says))
    for item in section.items:
        show_item(item)
    if section.opens:
        with st.container(horizontal=True):
            for each in section.opens:
                link(each)


st.header(words.headline(report))
st.link_button(
    "Squad and week on paper (PDF)",
    at(f"/download/week.pdf?measure={measure.code}&week={week.first}&against={against.first}"),
    key="week_sheet",
)
curves, levels, *others_shown, data = words.sections(report)
show(curves)
show(levels)
if len(report.levels):
    elements.quiet(curve_words.HOW_TO_READ_LEVELS)
    pictures.show(
        pictures.draw(
            estimates_figure,
            curve_words.levels_rows(report.levels),
            "change of level, %",
            elements.screen_palette(),
        ),
        key=f"week_changes_{measure.code}_{week.first}_{against.first}",
        alt=curve_words.levels_in_words(report.levels),
    )
    with st.expander(f"All {len(report.levels)} levels"):
        st.dataframe(
            curve_words.levels_table(report.levels, measure.unit),
            key="week_levels",
            hide_index=True,
            height="content",
            column_config={
                "change, %": columns.decimals(1),
                f"then, {units.shown(measure.unit).unit}": columns.decimals(2),
                f"now, {units.shown(measure.unit).unit}": columns.decimals(2),
            },
            alt=f"Levels of {len(report.levels)} athletes in both weeks",
        )
for section in others_shown:
    show(section)
show(data)
came = words.sessions_table(report.sessions)
if len(came):
    st.dataframe(
        came,
        key="week_sessions",
        hide_index=True,
        height="content",
        column_config={"last": columns.days()},
        alt=f"Sessions and efforts of {len(came)} athletes in this week",
    )
