"""The whole plan of a game: its bars, what to know about it, the bench, and all numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import streamlit as st

from dashboard.core import columns, terms
from dashboard.game import prevention_words, substitute_words, words
from dashboard.game.advice import PlannedGame
from dashboard.game.chart import timeline_figure
from dashboard.game.lines import WaveLines
from dashboard.game.tables import game_table
from dashboard.rules import protocol_words, weather_words
from dashboard.screen import elements, pictures
from dashboard.screen.reads import ask
from db.plans.games import Game
from db.roster.measures import Measure
from db.roster.protocols import protocol_of


def show_details(
    measure: Measure,
    plan: PlannedGame,
    waves: Sequence[WaveLines],
    names: Mapping[str, str],
    key: str,
) -> None:
    """Show the rest of a plan, once it is unfolded."""
    box = st.expander(
        "The whole plan: bars, substitutes, half-time, all numbers",
        key="whole_plan",
        on_change="rerun",
    )
    if not box.open:
        return
    unit = measure.volume_unit
    with box:
        st.subheader(
            words.headline(waves),
            help=terms.explained("wave, general part, re-warm-up"),
        )
        elements.quiet(words.occasion_sentence(plan.game, unit))
        pace = plan.game.minutes_per_effort
        elements.quiet(f"Efforts: {protocol_words.paced_line(ask(protocol_of, measure), pace)}.")
        pictures.show(
            pictures.draw(timeline_figure, waves, unit, elements.screen_palette()),
            key=f"timeline_{key}",
            alt=words.timeline_in_words(waves, unit),
        )
        elements.quiet(
            "grey: injury prevention · white: general part · filled: efforts · dots: wait until"
            " the start"
        )
        elements.bullets(_told(measure, plan, waves, names))
        _show_again(plan.game, waves, unit)
        _show_numbers(plan, waves)


def _told(
    measure: Measure, plan: PlannedGame, waves: Sequence[WaveLines], names: Mapping[str, str]
) -> list[str]:
    """Return what there is to know about the plan; a sentence that doesn't apply is empty."""
    return [
        words.grouping_sentence(plan.game),
        words.gap_sentence(waves),
        words.gap_caution(plan.game),
        words.waiting_known(plan.game),
        words.recovery_sentence(plan.game),
        substitute_words.earlier_sentence(plan.game, plan.advice, measure.volume_unit),
        words.dear_sentence(plan.advice, names, measure.worthwhile_pct),
        prevention_words.sentence(plan.game),
        words.REGION_ORDER,
        weather_words.air(plan.game.ambient_c),
    ]


def _show_again(game: Game, waves: Sequence[WaveLines], unit: str) -> None:
    """Show what is done again: by everybody at half-time, and by those on the bench."""
    if half_time := substitute_words.half_time_sentence(game, waves, unit):
        st.subheader(substitute_words.half_time_heading(game))
        st.write(f"{half_time} {substitute_words.HALF_TIME_EVIDENCE}")
    waiting = [(line, wave) for wave in waves for line in wave.lines if line.bench]
    if waiting:
        st.subheader(substitute_words.bench_heading(game))
        st.write(substitute_words.bench_sentence(game))
        elements.bullets(
            f"{line.name}: {substitute_words.bench_line(line, wave, unit)}"
            for line, wave in waiting
        )


def _show_numbers(plan: PlannedGame, waves: Sequence[WaveLines]) -> None:
    table = game_table(plan, waves)
    st.dataframe(
        table.drop(columns="code"),
        key="plan_table",
        hide_index=True,
        height="content",
        placeholder="",
        column_config={
            **{name: columns.values() for name in ("does", "advised", "standard")},
            **{
                name: columns.decimals(1)
                for name in ("lost %", "advised loses %", "standard loses %")
            },
        },
        alt=f"What {len(table)} athletes do before the game, and how much is lost",
    )
