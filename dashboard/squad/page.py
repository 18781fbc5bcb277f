"""The squad at a glance: who needs another length, is it worth it, what changed, what to test."""

from __future__ import annotations

import streamlit as st

from dashboard.athlete import change_words
from dashboard.core import columns, figures, terms
from dashboard.core.palette import CALLS
from dashboard.curve import panel
from dashboard.fits.usual_terms import best_volume_changes, latest_fit
from dashboard.screen import elements, notices, pictures, selection
from dashboard.screen.access import require
from dashboard.screen.menu import at
from dashboard.screen.reads import ask
from dashboard.squad import ranking, words
from dashboard.squad.cards import show_cards
from dashboard.squad.chart import squad_figure
from dashboard.squad.game_work_form import game_work_form
from dashboard.squad.limit_form import limit_form
from dashboard.squad.ranking import squad
from dashboard.squad.worth_panel import show_worth
from dashboard.start.first_steps import show_first_steps

DIRECTORS_FILES = (
    ("squad", "Squad numbers"),
    ("efforts", "Efforts"),
    ("set-aside", "Rows set aside"),
)

person = require("director", "coach")
head = st.columns([3, 1], vertical_alignment="bottom")
with head[0]:
    st.title("Squad")
show_first_steps(person)
with head[1]:
    measure = selection.choose_measure()
fit = ask(latest_fit, measure.code)
if fit is None:
    notices.no_curves_yet(person, measure)
    st.stop()
everyone = ask(squad, measure.code)
notices.newer_data_notice(person, measure, fit)
st.header(
    words.squad_headline(everyone, fit.standard_volume),
    help=terms.explained("best volume, standard, call, interval"),
)
elements.quiet(words.rest_sentence(everyone, fit, measure.volume_unit))
if own := words.own_lengths_sentence(everyone):
    st.write(own)
show_cards(person, measure, fit)

st.header("Who needs which length")
with st.container(horizontal=True, vertical_alignment="center"):
    elements.quiet(words.how_to_read_squad(fit))
    with st.popover("Choose who is shown"):
        positions = st.multiselect(
            "Position",
            sorted(everyone["position"].dropna().unique()),
            key="squad_positions",
            placeholder="All",
        )
        calls = st.multiselect(
            "Call", CALLS, key="squad_calls", placeholder="All", help=terms.meaning("call")
        )
st.write(f"**{words.reading_rule(fit)}**")
rows = everyone[
    (everyone["position"].isin(positions) | (not positions))
    & (everyone["call"].isin(calls) | (not calls))
].reset_index(drop=True)
if rows.empty:
    st.info("No active athlete fits this choice. Take a position or a call out of it.")
    st.stop()


def open_athlete(code: str) -> None:
    """Go to the page of one athlete."""
    st.switch_page(elements.ATHLETE_PAGE, query_params={"athlete": code})


clicked = pictures.clicked_point(
    pictures.draw(
        squad_figure,
        rows.drop(columns="small_curve"),
        fit.standard_volume,
        measure.volume_unit,
        elements.screen_palette(),
        narrow=elements.on_phone(),
    ),
    key="squad_picture",
    alt=words.squad_in_words(rows, fit.standard_volume, measure.volume_unit),
)
if clicked:
    open_athlete(clicked)
panel.usual_note(measure)

names = dict(zip(rows["athlete"], rows["name"], strict=True))
chosen = st.selectbox(
    "Open an athlete's curve",
    list(names),
    index=None,
    format_func=lambda code: names[code],
    placeholder="Choose an athlete, or click a dot above or a row below",
    key="squad_open",
)
if chosen:
    open_athlete(chosen)

with st.expander("All numbers: every athlete with intervals, chances and last test; as files"):
    picked = st.dataframe(
        ranking.ranking(rows),
        key="squad_ranking",
        hide_index=True,
        on_select="rerun",
        selection_mode="single-row",
        height="content",
        row_height=34,
        placeholder="",
        column_config={
            "call": st.column_config.TextColumn(width=76, help=terms.meaning("call")),
            "length": columns.values(width=58, help=terms.meaning("length")),
            "lost %": columns.decimals(1, width=54, help=terms.meaning("loss")),
            "curve": st.column_config.LineChartColumn(
                width=90,
                y_min=figures.SMALL_CURVE_LOWEST_PCT,
                y_max=0,
                help="From cold to past the most that was tried, spaced as in the picture above",
            ),
            "best": columns.decimals(0, width=50, help=terms.meaning("best volume")),
            "at standard %": columns.decimals(
                1, width=74, help=f"{terms.meaning('loss')} Here: at the standard."
            ),
            "gain %": columns.decimals(1, width=60, help=terms.meaning("gain")),
            **{
                f"{call} %": st.column_config.NumberColumn(
                    format="%d",
                    width=56,
                    help=f"Chance of {call}; 1: 1 or less, 99: 99 or more",
                )
                for call in ("short", "either", "long")
            },
            "sessions": columns.values(width=62, help=terms.meaning("session")),
            "efforts": columns.values(width=54, help=terms.meaning("effort")),
            "last test": columns.days(),
        },
        alt=f"Ranking of {len(rows)} athletes by best warm-up volume",
    )
    if picked["selection"]["rows"]:
        open_athlete(rows["athlete"][picked["selection"]["rows"][0]])
    with st.container(horizontal=True):
        for what, label in (
            ("responses", "Responses"),
            ("curves", "Curves"),
            *(DIRECTORS_FILES if person.role == "director" else ()),
        ):
            st.link_button(
                f"{label} (CSV)",
                at(f"/download/export/{what}.csv?measure={measure.code}"),
                key=what,
            )
if not person.limited:
    show_worth(measure, fit)
with st.expander("Best volumes that seem to have changed"):
    changes = ask(best_volume_changes, measure.code)
    changes = changes[changes["active"]]
    told = changes[changes["chance"] >= change_words.LEAST_CHANCE]
    if told.empty and not notices.follow_fit(measure):
        st.write(change_words.none_changed(len(changes), int(everyone["sessions"].max())))
    for change in told.to_dict("records"):
        name, sentence = st.columns([1, 4], vertical_alignment="center")
        if name.button(change["name"], key=f"change_{change['athlete']}", width="stretch"):
            open_athlete(change["athlete"])
        sentence.write(change_words.change_sentence(change, measure.volume_unit))
if person.role == "director":
    limit_form(person, measure, rows)
    game_work_form(person, measure)
