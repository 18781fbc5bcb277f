"""What to do today: the form of the day, and the advice that follows from it."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from math import isinf

import streamlit as st

from dashboard.athlete import advice_words
from dashboard.athlete.advice_chart import demand_figure
from dashboard.core import numbers, terms
from dashboard.fits.kept_curves import kept_draws
from dashboard.game.substitute_words import again_words
from dashboard.rules import goals
from dashboard.rules.game_work import game_work
from dashboard.rules.protocol_words import effort_line
from dashboard.rules.test_days import athlete_days, is_minor, resting_sentence
from dashboard.rules.work_limits import LONGEST_RECOVERY_SECONDS, MOST_EFFORTS
from dashboard.screen import elements, pictures, selection, units
from dashboard.screen.reads import ask
from db.roster.measures import Measure
from db.roster.protocols import protocol_of
from db.tables.cells import LEAST_GENERAL_MINUTES
from modeling import CurveDraws
from modeling.curve import waiting
from modeling.curve.account import Circumstances
from modeling.day.bench_time import bench_times
from modeling.day.demand import fade_against_demand
from modeling.day.goal_advice import Advice, ToFollow, advise


def advice_panel(measure: Measure, athlete: str) -> None:
    """Ask for the day, and show the advice for one athlete with everything it rests on."""
    curve = ask(kept_draws, measure.code, athlete).get(athlete)
    if curve is None:
        st.info("These curves are older than this page. Update the curves to get advice.")
        return
    unit = measure.volume_unit
    to_follow, recovery = _work_to_follow(measure)
    advice = advise(curve, to_follow, *_day(curve, unit))
    _show(advice, measure)
    st.header("After a wait as a substitute, or a break")
    st.write(advice_words.bench_sentence(advice.volume, curve.worthwhile_pct, unit))
    elements.quiet(waiting.KNOWN)
    rows = bench_times(curve, advice.volume, advice.around)
    st.table(
        advice_words.bench_table(rows, unit),
        border="horizontal",
        hide_index=True,
        alt="What is lost by the minutes of rest, and how much to do again",
    )
    if to_follow.efforts > 1:
        st.header("The efforts that follow")
        demand = fade_against_demand(
            curve, to_follow.efforts, advice.volume, advice.around, recovery or 0.0
        )
        sentence = advice_words.demand_sentence(demand, recovery)
        pictures.show(
            demand_figure(demand, elements.screen_palette()),
            key=f"demand_{measure.code}_{athlete}",
            alt=sentence,
        )
        st.write(sentence)


def _work_to_follow(measure: Measure) -> tuple[ToFollow, float | None]:
    """Ask for the work; return it, and the recovery between two of its efforts if given."""
    usual, recovery = ask(game_work, measure), None
    with st.container(horizontal=True):
        goal = st.selectbox(
            "Goal",
            list(goals.GOALS),
            format_func=lambda code: goals.GOALS[code],
            key="advice_goal",
            persist_state="session",
            help=terms.meaning("goal"),
        )
        efforts = 1
        if goal != "best":
            efforts = int(
                st.number_input(
                    "Efforts that follow",
                    1,
                    MOST_EFFORTS,
                    usual.efforts if goal == "sustained" else 20,
                    key=f"advice_efforts_{goal}_{measure.code}",
                    persist_state="session",
                )
            )
            recovery = st.number_input(
                "Recovery between two of them, s",
                0.0,
                LONGEST_RECOVERY_SECONDS,
                usual.recovery_seconds if goal == "sustained" else None,
                10.0,
                "%g",
                key=f"advice_recovery_{goal}_{measure.code}",
                persist_state="session",
                placeholder="not given",
                help="What a game leaves between two. A game's usual is set on the page Squad.",
            )
        price = st.number_input(
            "Price of a minute, %",
            0.0,
            5.0,
            0.0,
            0.05,
            key="advice_price",
            persist_state="session",
            help="What a minute of warm-up may cost: a longer one must bring more than this.",
        )
    work = ToFollow(
        goal, efforts, price_pct_per_minute=price, recovery_seconds=float(recovery or 0.0)
    )
    return work, recovery


def _day(curve: CurveDraws, unit: str) -> tuple[Circumstances, float | None]:
    usual, air = curve.usual, units.shown("°C")
    with st.container(horizontal=True):
        general = st.number_input(
            "General warm-up, min",
            min(LEAST_GENERAL_MINUTES, usual.general_minutes),
            60.0,
            usual.general_minutes,
            1.0,
            key="advice_general",
            persist_state="session",
        )
        rest = st.number_input(
            "Rest before the start, min",
            0.0,
            120.0,
            usual.rest_minutes,
            1.0,
            key="advice_rest",
            persist_state="session",
        )
        ambient = st.number_input(
            f"Temperature, {air.unit}",
            air.of(-30.0),
            air.of(50.0),
            air.of(usual.ambient_c),
            1.0,
            key=f"advice_ambient_{air.unit}",
            persist_state="session",
        )
        at = st.time_input(
            "Start",
            _clock(usual.hour),
            key="advice_start",
            persist_state="session",
        )
        most = st.number_input(
            f"Most {unit} allowed",
            0.0,
            1000.0,
            None,
            1.0,
            key="advice_limit",
            persist_state="session",
            placeholder=_allowed(curve.limits.most),
        )
    around = Circumstances(general, rest, air.back(ambient), at.hour + at.minute / 60.0)
    return around, most


def _allowed(most: float) -> str:
    return "no limit" if isinf(most) else f"{most:g}"


def _clock(hour: float) -> time:
    return (datetime.min + timedelta(hours=hour)).time().replace(second=0, microsecond=0)


def _show(advice: Advice, measure: Measure) -> None:
    unit = measure.volume_unit
    st.metric("Do today", numbers.volume(advice.volume, unit), help=terms.meaning("length"))
    if again := again_words(advice.length.top_up):
        st.write(f"After the wait {again}.")
    elements.quiet(f"Efforts: {effort_line(ask(protocol_of, measure))}.")
    elements.bullets(advice_words.advice_sentences(advice, unit))
    st.table(
        advice_words.alternatives_table(advice),
        border="horizontal",
        hide_index=True,
        alt="Other lengths, and what they lose",
    )
    known = ask(athlete_days, measure)[str(advice.athlete)]
    name = selection.athlete_labels(active_only=False)[str(advice.athlete)]
    minor = is_minor(known.born, date.today())
    told = advice_words.safety_sentences(name, minor, advice.around.ambient_c)
    *warned, always, build_up, stop = told
    for sentence in (*warned, resting_sentence({name: known}, {name: name}, date.today())):
        if sentence:
            st.warning(sentence)
    st.write(f"{always} {build_up} {stop}")
