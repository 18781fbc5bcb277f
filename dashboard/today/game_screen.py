"""The plan of a game on the screen: waves back from the whistle, everybody's length, the files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from functools import partial

import streamlit as st

from dashboard.core import cautions, columns, numbers, terms
from dashboard.fits.kept_curves import kept_draws
from dashboard.game import prevention_words, substitute_words, words
from dashboard.game.advice import WAVE_REASON, Occasion, PlannedGame, plan_game
from dashboard.game.chart import timeline_figure
from dashboard.game.lines import WaveLines, late_lines, most_at_once, wave_lines
from dashboard.game.measures import disagreements, other_advice
from dashboard.game.tables import game_table
from dashboard.rules import protocol_words, weather_words
from dashboard.rules.club_limits import check_choice
from dashboard.rules.game_work import GameWork
from dashboard.screen import doing, elements, pictures, selection
from dashboard.screen.reads import ask, own_store
from dashboard.screen.status_form import able_labels, show_left_out
from dashboard.today.day_games import DayGames
from dashboard.today.game_form import game_form
from dashboard.today.length_form import choose_clicked, length_form
from dashboard.today.training_screen import keep_choices
from db.errors import BadInput
from db.file.store import Store
from db.people.accounts import Person
from db.plans.games import Game, save_game
from db.plans.kept_games import KeptGame
from db.roster.measures import Measure
from db.roster.protocols import protocol_of

OWN_LENGTHS = "Own lengths"
OWN = 0


def show_game(
    person: Person,
    measure: Measure,
    starts: tuple[datetime, ...],
    goal: str,
    work: GameWork,
    day_games: DayGames,
) -> None:
    """Show the warm-up of a game, worked out from what the coach says, and keep it."""
    day, names = starts[0].date(), able_labels()
    show_left_out()
    kept = day_games.own
    number, which = kept.game_id if kept else 0, "second" if day_games.second else "first"
    key = f"{measure.code}_{day}_{which}_{number}"
    try:
        occasion = game_form(
            measure.code,
            starts,
            goal,
            work,
            day_games,
            names,
            ask(kept_draws, measure.code),
            key,
        )
        plan, waves = _planned(occasion, kept, names, key)
    except BadInput as error:
        st.info(error.message)
        return
    unit = measure.volume_unit
    st.header(
        words.headline(waves),
        help=terms.explained("first whistle, wave, general part, re-warm-up"),
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
        "grey: injury prevention · white: general part · filled: efforts · dots: wait until the"
        " whistle"
    )
    _choose_waves(plan, kept, key)
    _warn(plan, waves)
    elements.bullets(_told(measure, plan, waves, names))
    _show_people(person, measure, plan, waves, names, key)
    _show_again(plan.game, waves, unit)
    st.write(cautions.CAUTION)
    _keep(person, plan.game, kept, day, measure)


def _told(
    measure: Measure, plan: PlannedGame, waves: Sequence[WaveLines], names: Mapping[str, str]
) -> list[str]:
    """Return what there is to know of the plan, empty where there is nothing."""
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


def _planned(
    occasion: Occasion, kept: KeptGame | None, names: Mapping[str, str], key: str
) -> tuple[PlannedGame, tuple[WaveLines, ...]]:
    """Work the plan out, in as many waves as were chosen, or as were kept."""
    asked = tuple(
        st.session_state.get(_waves_key(key, number), _kept_waves(kept, number)) or None
        for number in range(1, len(occasion.game.starts) + 1)
    )
    plan = ask(planned, replace(occasion, waves=asked))
    return plan, wave_lines(plan.game, names)


def planned(store: Store, occasion: Occasion) -> PlannedGame:
    """Return the plan of a game from the curves that are kept."""
    return plan_game(store, occasion, ask(kept_draws, occasion.game.measure))


def _waves_key(key: str, number: int) -> str:
    return f"game_waves_{key}_{number}"


def _kept_waves(kept: KeptGame | None, number: int) -> int:
    """Return how many waves were kept; with own lengths nobody has theirs from a wave."""
    if kept is None or all(
        player.own_length or not player.plan.reason.startswith(WAVE_REASON)
        for player in kept.game.players
        if player.start_number == number
    ):
        return OWN
    return sum(wave.start_number == number for wave in kept.game.waves)


def _choose_waves(plan: PlannedGame, kept: KeptGame | None, key: str) -> None:
    for number, choices in plan.choices.items():
        labels = [words.choice_label(each) for each in choices]
        many = len(plan.choices) > 1
        start = words.clock(plan.game.starts[number - 1])
        if st.session_state.get(_waves_key(key, number), OWN) > len(choices):
            del st.session_state[_waves_key(key, number)]
        st.selectbox(
            f"Waves before the start at {start}" if many else "Waves",
            range(len(choices) + 1),
            min(_kept_waves(kept, number), len(choices)),
            format_func=partial(_labelled, labels),
            key=_waves_key(key, number),
            help="What so many waves cost is on average of the athletes, with its 90 % interval,"
            " against everybody at their own length.",
        )


def _labelled(labels: list[str], waves: int) -> str:
    return labels[waves - 1] if waves else OWN_LENGTHS


def _warn(plan: PlannedGame, waves: tuple[WaveLines, ...]) -> None:
    """Say who would not be ready and what to drop, and where there are too few staff."""
    game = plan.game
    late = late_lines(waves, game.free_from)
    if late and game.free_from is not None:
        told = [remedy for number in plan.choices for remedy in words.remedies(plan, late, number)]
        st.warning(
            "\n".join([words.late_sentence(late, game.free_from), *(f"- {each}" for each in told)])
        )
    crowded = words.staff_sentence(*most_at_once(waves), game)
    if crowded:
        st.warning(crowded)


def _show_people(
    person: Person,
    measure: Measure,
    plan: PlannedGame,
    waves: Sequence[WaveLines],
    names: Mapping[str, str],
    key: str,
) -> None:
    unit, game = measure.volume_unit, plan.game
    st.header("Everybody's length")
    table = game_table(plan, waves)
    players = {player.plan.athlete: player for player in game.players}
    by_code = {row["athlete"]: row for row in plan.advice.to_dict("records")}
    listed = [
        by_code[code] | {"reason": players[code].plan.reason if players[code].own_length else ""}
        for code in table["code"]
    ]
    chosen = length_form(
        listed,
        names,
        lambda row: words.choice_sentence(row, unit),
        unit,
        f"game_{key}_{game.goal}_{game.efforts_to_follow}",
    )
    elements.quiet(
        "A length set by hand is done whatever the wave. To undo, set the athlete's own length"
        " again, without a reason."
    )
    if chosen:
        row, length, reason = chosen
        entry = replace(players[row["athlete"]].plan, chosen_volume=length, reason=reason)
        keep_choices(person, [entry])
    st.dataframe(
        table.drop(columns="code"),
        key="plan_table",
        hide_index=True,
        height="content",
        on_select=lambda: choose_clicked(listed, "plan_table"),
        selection_mode="single-row",
        placeholder="",
        column_config={
            **{name: columns.values() for name in ("does", "advised", "standard")},
            **{
                name: columns.decimals(1)
                for name in ("lost %", "advised loses %", "standard loses %")
            },
        },
        alt=f"What {len(table)} athletes do before the game, and what it gives away",
    )
    for other in selection.measures_with_data().values():
        if other.code != measure.code:
            rows = disagreements(
                plan,
                measure.worthwhile_pct,
                ask(other_advice, other.code, game),
                other.worthwhile_pct,
            )
            elements.bullets(words.disagreements_in_words(rows, names, measure, other))


def _show_again(game: Game, waves: Sequence[WaveLines], unit: str) -> None:
    """Say what is done again: at half-time by everybody, and by those who wait on the bench."""
    if half_time := substitute_words.half_time_sentence(game, waves, unit):
        st.header(substitute_words.half_time_heading(game))
        st.write(f"{half_time} {substitute_words.HALF_TIME_EVIDENCE}")
    waiting = [(line, wave) for wave in waves for line in wave.lines if line.bench]
    if waiting:
        st.header(substitute_words.bench_heading(game))
        st.write(substitute_words.bench_sentence(game))
        elements.bullets(
            f"{line.name}: {substitute_words.bench_line(line, wave, unit)}"
            for line, wave in waiting
        )


def _save(game: Game, person: Person) -> None:
    for player in game.players:
        check_choice(own_store(), player.plan, player.earlier_volume)
    save_game(own_store(), game, person.person)


def _keep(person: Person, game: Game, kept: KeptGame | None, day: date, measure: Measure) -> None:
    same = kept is not None and kept.game == game
    with st.container(horizontal=True, vertical_alignment="center"):
        if not same and st.button("Keep this plan", type="primary", key="keep_game"):
            doing.do(
                f"The plan is kept for {numbers.counted(len(game.players), 'athlete')}.",
                lambda: _save(game, person),
            )
        if kept is None:
            elements.quiet("Sheet, calendars and phone view are of what is kept.")
            return
        if not same:
            elements.quiet("Changed since it was kept: the files are still those of before.")
    asked = f"day={day}&measure={measure.code}"
    with st.container(horizontal=True):
        for label, path in (
            ("Sheet to print (PDF)", "sheet.pdf"),
            ("For a phone (HTML)", "game.html"),
            ("Staff's calendar", "game.ics"),
            ("Everybody's calendars (ZIP)", "game.zip"),
            ("Table (CSV)", "game.csv"),
        ):
            st.link_button(label, f"/download/{path}?{asked}", key=f"file_{path}")
