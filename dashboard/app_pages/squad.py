"""The director's page: who needs a short and who a long warm-up, and how sure that is."""

from __future__ import annotations

import streamlit as st

from dashboard import charts, numbers, page_parts, pictures, tables, words
from dashboard.access import require
from dashboard.palette import CALLS
from dashboard.reads import ask, evidence_gaps, squad
from db.results import latest_fit

person = require("director")
st.title("Squad")
filters = st.container(horizontal=True)
with filters:
    measure = page_parts.choose_measure()
fit = ask(latest_fit, measure.code)
if fit is None:
    page_parts.no_curves_yet(person, measure)
    st.stop()
everyone = ask(squad, measure.code)
with filters:
    positions = st.multiselect(
        "Position",
        sorted(everyone["position"].dropna().unique()),
        key="squad_positions",
        placeholder="All",
    )
    calls = st.multiselect("Call", CALLS, key="squad_calls", placeholder="All")
page_parts.newer_data_notice(person, measure, fit)
rows = everyone[
    (everyone["position"].isin(positions) | (not positions))
    & (everyone["call"].isin(calls) | (not calls))
].reset_index(drop=True)
if rows.empty:
    st.info("No active athlete fits this choice. Take a position or a call out of it.")
    st.stop()


def open_athlete(code: str) -> None:
    """Go to the page of one athlete."""
    st.session_state["athlete"] = code
    st.switch_page(page_parts.ATHLETE_PAGE)


st.subheader(words.squad_headline(rows))
page_parts.quiet(words.how_to_read_squad(measure.name, fit))
clicked = pictures.clicked_point(
    pictures.squad_figure(
        rows.drop(columns="small_curve"),
        fit.standard_volume,
        measure.volume_unit,
        page_parts.screen_palette(),
        narrow=page_parts.on_phone(),
    ),
    key="squad_picture",
    alt=words.squad_in_words(rows, fit.standard_volume, measure.volume_unit),
)
if clicked:
    open_athlete(clicked)

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

st.subheader("What individual lengths are worth")
st.write(words.worth_sentence(fit, measure.volume_unit))
st.write(words.differ_sentence(fit))
for warning in fit.warnings.splitlines():
    page_parts.quiet(warning)

st.subheader("Everyone in numbers")
picked = st.dataframe(
    tables.ranking(rows),
    key="squad_ranking",
    hide_index=True,
    on_select="rerun",
    selection_mode="single-row",
    height="content",
    row_height=34,
    placeholder="",
    column_config={
        "call": st.column_config.TextColumn(width=76),
        "advised": st.column_config.NumberColumn(format="%g", width=62),
        "curve": st.column_config.LineChartColumn(
            width=90,
            y_min=charts.SMALL_CURVE_LOWEST_PCT,
            y_max=0,
            help="From cold to past the most that was tried, spaced as in the picture above",
        ),
        "best": st.column_config.NumberColumn(format="%.0f", width=50),
        "lost %": st.column_config.NumberColumn(format="%.1f", width=60, help="At the standard"),
        "gain %": st.column_config.NumberColumn(format="%.1f", width=60, help="Cold to peak"),
        **{
            f"{call} %": st.column_config.NumberColumn(
                format="%d", width=56, help=f"Chance of {call}; 1 is 1 or less, 99 is 99 or more"
            )
            for call in ("short", "either", "long")
        },
        "sessions": st.column_config.NumberColumn(width=62),
        "efforts": st.column_config.NumberColumn(width=54),
        "last test": st.column_config.DateColumn(format="D MMM YYYY"),
    },
    alt=f"Ranking of {len(rows)} athletes by best warm-up volume",
)
if picked["selection"]["rows"]:
    open_athlete(rows["athlete"][picked["selection"]["rows"][0]])

gaps = ask(evidence_gaps, measure.code)
st.subheader("Who needs which test next")
if gaps.empty:
    st.write("Every active athlete has a firm call.")
else:
    st.write(
        f"{len(gaps)} of {numbers.counted(len(everyone), 'athlete')} without a firm call, those"
        f" with least data first. A fade test is {words.FADE_TEST_IS}."
    )
    st.dataframe(
        tables.gaps(gaps),
        hide_index=True,
        column_config={"last test": st.column_config.DateColumn(format="D MMM YYYY")},
        placeholder="none",
        alt="Athletes without a firm call and what to collect next",
    )

st.subheader("Take the numbers with you")
with st.container(horizontal=True):
    for what, label in (
        ("responses", "Responses"),
        ("curves", "Curves"),
        ("efforts", "Efforts"),
        ("set-aside", "Rows set aside"),
    ):
        st.link_button(
            f"{label} (CSV)", f"/download/export/{what}.csv?measure={measure.code}", key=what
        )
