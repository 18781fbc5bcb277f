"""Which tests to do this week, and what each is worth."""

from __future__ import annotations

from datetime import date

import pandas as pd
import streamlit as st

from dashboard.core import columns, terms
from dashboard.core.numbers import listed
from dashboard.fits.next_tests import as_asked, least_of_fade, listed_tests, worth_doing
from dashboard.fits.usual_terms import latest_fit
from dashboard.rules import match_days
from dashboard.rules.test_days import athlete_days, from_day_words, week_rule
from dashboard.screen import elements, notices, pictures, selection
from dashboard.screen.access import require
from dashboard.screen.menu import at
from dashboard.screen.reads import ask
from dashboard.tests import coming_days, next_test_words
from dashboard.tests.next_test_chart import worth_figure
from db.roster.measures import kind_of_effort
from modeling.day.caution import rest_after_test_days

MOST_TESTS, USUAL_TESTS, USUAL_IN_SESSION = 100, 8, 4
OFFERED = {"any": "Fade tests and routine sessions", "routine": "Routine sessions only"}

person = require("director", "coach")
st.title("Tests to do")
with st.container(horizontal=True, vertical_alignment="bottom"):
    measure = selection.choose_measure()
    most = st.number_input(
        "Tests this week", 1, MOST_TESTS, USUAL_TESTS, key="most_tests", persist_state="session"
    )
fit = ask(latest_fit, measure.code)
if fit is None:
    notices.no_curves_yet(person, measure)
    st.stop()
chosen = st.segmented_control(
    "Kinds of test",
    list(OFFERED),
    format_func=OFFERED.__getitem__,
    default="any",
    required=True,
    key="test_kinds",
)
everyone = ask(listed_tests, measure.code, chosen == "any")
if everyone.empty:
    notices.work_out_again(
        person, measure, "which say nothing of next tests yet", "see which tests to do"
    )
    st.stop()
notices.newer_data_notice(person, measure, fit)

rows = worth_doing(everyone)
if rows.empty:
    st.write(next_test_words.nothing_sentence(len(everyone)))
    st.stop()
shown, unit = rows.head(int(most)), measure.volume_unit
st.header(next_test_words.headline(rows, fit.worthwhile_pct))
st.write(next_test_words.worth_sentence(shown))
elements.quiet(next_test_words.HOW_TO_READ)
pictures.show(
    pictures.draw(
        worth_figure,
        shown,
        [next_test_words.test_name(row, unit) for row in shown.to_dict("records")],
        elements.screen_palette(),
    ),
    key=f"worth_{measure.code}",
    alt=next_test_words.tests_in_words(shown, unit),
)
if (shown["kind"] == "fade").any():
    st.write(next_test_words.fade_sentence(least_of_fade(fit.worthwhile_pct)))
st.write(next_test_words.CAUTION)

rule = ask(week_rule)
when = [
    from_day_words(None if pd.isna(row["first_day"]) else row["first_day"].date(), row["game_day"])
    for row in shown.to_dict("records")
]
elements.quiet(
    f"From: not within {rule.hours_before_game:g} hours before a game nor the day after one, no"
    " fade test whose rest would last into a game, and at most"
    f" {rule.most_in_week} tests in a week. {match_days.MEANING}"
)
elements.quiet("Mark those whom you test together, then open the test.")
marked = st.dataframe(
    next_test_words.tests_table(shown, unit, when),
    key=f"tests_{measure.code}_{chosen}_{len(shown)}",
    on_select="rerun",
    selection_mode="multi-row",
    hide_index=True,
    height="content",
    column_config={
        "worth %": columns.decimals(2, help=terms.meaning("what a test is worth")),
        "efforts": st.column_config.TextColumn(
            help="How many maximal efforts it is expected to take, with the range that is 90\u00a0%"
            " sure: a fade test by its stop rule, fewer where enough is known before"
        ),
        "until a firm call": st.column_config.TextColumn(help="Such tests, one after another"),
    },
    alt="Tests to do, most worth first",
)
tested = shown.iloc[marked["selection"]["rows"]]
elements.link_to(
    "run_test",
    f"Run a test with {listed(list(tested['name']))}" if len(tested) else "Run a test",
    as_asked(measure.code, tested),
)
st.header("Over the coming days")
in_session = st.number_input(
    "Athletes tested in one session",
    1,
    MOST_TESTS,
    USUAL_IN_SESSION,
    key="tests_in_session",
    persist_state="session",
)
known = ask(athlete_days, measure)
coming = coming_days.spread_tests(
    shown,
    known,
    rule,
    rest_after_test_days(kind_of_effort(measure)),
    int(in_session),
    date.today(),
)
st.write(coming_days.total_sentence(coming))
elements.bullets(coming_days.day_lines(coming, known, unit))
elements.quiet(coming_days.ANEW)
if len(everyone) > len(rows):
    st.write(next_test_words.nothing_sentence(len(everyone) - len(rows)))
st.link_button(
    "Tests to do (CSV)",
    at(f"/download/export/next-tests.csv?measure={measure.code}"),
    key="next_tests",
)
