"""The plan of a game on the screen: everybody's row, and how it is saved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

import pandas as pd
import streamlit as st

from dashboard.core.numbers import counted, percent, percent_with_interval
from dashboard.core.once import one_answer
from dashboard.fits.kept_curves import kept_draws
from dashboard.fits.lengths import responses
from dashboard.game import words
from dashboard.game.advice import (
    WAVE_REASON,
    Occasion,
    PlannedGame,
    own_choices,
    plan_game,
    usual_game,
)
from dashboard.game.choices import together
from dashboard.game.lines import WaveLines, late_lines, most_at_once, wave_lines
from dashboard.game.measures import disagreements, other_advice, without_lengths
from dashboard.rules.club_limits import check_choice
from dashboard.rules.game_work import GameWork
from dashboard.screen import selection
from dashboard.screen.reads import ask, own_store
from dashboard.screen.status_form import able_labels
from dashboard.today import game_rows, row_words
from dashboard.today.day_games import DayGames
from dashboard.today.drafts import (
    ONE,
    OWN,
    WAVES,
    Actions,
    Check,
    Draft,
    draft_of,
    listener,
    show_actions,
)
from dashboard.today.game_form import game_form
from dashboard.today.game_rows import Known, game_groups
from dashboard.today.plan_details import show_details
from dashboard.today.rows import Choice, RowList, Waves, show_rows
from db.errors import StoreError
from db.file.store import Store
from db.fits.results import KeptFit
from db.people.accounts import Person
from db.plans.games import Game, save_game
from db.plans.kept_games import KeptGame
from db.plans.lengths import PlanEntry
from db.roster.measures import Measure
from modeling.game.timeline import MOST_WAVES

LABELS = {OWN: "Own lengths", WAVES: "A few waves", ONE: "One for all"}
NOBODY = "Nobody is left for this game. Tick somebody."


@dataclass(frozen=True)
class Shown:
    """A game on the screen: who is looking, the measure and its fit, the day's games, and a key."""

    person: Person
    measure: Measure
    fit: KeptFit
    day_games: DayGames
    key: str

    @property
    def kept(self) -> KeptGame | None:
        """The saved plan of this game, if any."""
        return self.day_games.own


def show_game(
    shown: Shown,
    starts: tuple[datetime, ...],
    goal: str,
    work: GameWork,
    change: st.delta_generator.DeltaGenerator,
) -> str:
    """Show the rows of a game, worked out from what the coach says; return its headline."""
    names, measure, key = able_labels(), shown.measure, shown.key
    draft = draft_of(key, lambda: _saved_draft(shown, starts, names))
    curves = ask(kept_draws, measure.code)
    here = frozenset(names) & draft.away
    with change:
        said = game_form(
            measure.code, starts, goal, work, shown.day_games, names, curves, key, here
        )
    plan: PlannedGame | None = None
    waves: tuple[WaveLines, ...] = ()
    if said.start_of:
        plan = ask(planned, _occasion(said, draft))
        waves = wave_lines(plan.game, names)
    known = _known(shown, plan, draft, names)
    if plan is None:
        st.info(NOBODY)
    else:
        _warn(plan, waves)
    advised, check = _advised(plan), _check(said.game, plan)
    show_rows(
        RowList(
            f"{key} {shown.person.person}",
            game_groups(waves, draft, known),
            choices=() if plan is None else _choices(plan, draft),
            costs="" if plan is None else _costs(plan, draft),
            waves=() if plan is None else _waves(plan, draft),
        ),
        listener(key, names, advised, check),
    )
    if plan is not None:
        same = shown.kept is not None and shown.kept.game == plan.game
        told = game_rows.status(waves, draft, shown.kept is not None, same)
        game = plan.game
        show_actions(
            Actions(measure.code, game.day, told, same, shown.kept is not None, game=True),
            lambda: _save(game, shown.person),
        )
        show_details(measure, plan, waves, names, key)
    return row_words.game_headline(said.game, waves)


def planned(store: Store, occasion: Occasion) -> PlannedGame:
    """Return the plan of a game, from the saved curves."""
    return plan_game(store, occasion, ask(kept_draws, occasion.game.measure))


def _occasion(said: Occasion, draft: Draft) -> Occasion:
    """Add what was ticked and typed; weigh up many waves only if asked, as that takes longer."""
    numbers = range(1, len(said.game.starts) + 1)
    here = {code for code, _ in said.start_of}
    return replace(
        said,
        waves=tuple(draft.waves_before(number) for number in numbers),
        set_by_hand=tuple(one for one in draft.by_hand if one[0] in here),
        most_waves=MOST_WAVES if draft.choice == WAVES else 2,
    )


def _saved_draft(shown: Shown, starts: tuple[datetime, ...], names: Mapping[str, str]) -> Draft:
    """Return the draft that matches what is saved for a game."""
    kept, day = shown.kept, starts[0].date()
    game = usual_game(shown.measure.code, day, starts, {}) if kept is None else kept.game
    by_hand = {} if shown.day_games.second and kept is None else ask(own_choices, game)
    lengths = tuple(sorted((code, *one) for code, one in by_hand.items()))
    if kept is None:
        return Draft(by_hand=lengths)
    waves = {number: _kept_waves(kept.game, number) for number in range(1, len(game.starts) + 1)}
    choice = WAVES
    if not any(waves.values()):
        choice = OWN
    elif set(waves.values()) == {1}:
        choice = ONE
    here = {player.plan.athlete for player in kept.game.players}
    few = tuple(waves.items()) if choice == WAVES else ()
    return Draft(choice, few, frozenset(names) - here, lengths)


def _kept_waves(game: Game, number: int) -> int:
    """Return how many waves were saved; 0 means own lengths: no length came from a wave."""
    if all(
        player.own_length or not player.plan.reason.startswith(WAVE_REASON)
        for player in game.players
        if player.start_number == number
    ):
        return 0
    return sum(wave.start_number == number for wave in game.waves)


def _choices(plan: PlannedGame, draft: Draft) -> tuple[Choice, ...]:
    """Return the three choices, each with what it costs and its start times."""
    found = []
    for code, label in LABELS.items():
        times, lost = _together(plan, replace(draft, choice=code))
        told = f"{counted(times, 'start time')}, {percent(lost[0])} lost"
        found.append(Choice(code, label, told, code == draft.choice))
    return tuple(found)


def _together(plan: PlannedGame, draft: Draft) -> tuple[int, tuple[float, float, float]]:
    many = pd.Series([player.start_number for player in plan.game.players]).value_counts()
    chosen = []
    for number, weighed in plan.choices.items():
        waves = draft.waves_before(number)
        one = plan.own[number] if waves is None else weighed[min(waves, len(weighed)) - 1]
        chosen.append((one, int(many[number])))
    return together(chosen)


def _costs(plan: PlannedGame, draft: Draft) -> str:
    _, lost = _together(plan, draft)
    return (
        f"{LABELS[draft.choice]}: {percent_with_interval(*lost)} lost on average of"
        f" {counted(len(plan.game.players), 'athlete')}; in brackets what is 90\u00a0% sure."
    )


def _waves(plan: PlannedGame, draft: Draft) -> tuple[Waves, ...]:
    if draft.choice != WAVES:
        return ()
    several = len(plan.choices) > 1
    return tuple(
        Waves(
            number,
            f"Waves before the start at {words.clock(plan.game.starts[number - 1])}"
            if several
            else "Waves",
            (LABELS[OWN], *(words.choice_label(each) for each in weighed)),
            min(draft.waves_before(number) or 0, len(weighed)),
        )
        for number, weighed in plan.choices.items()
    )


def _known(shown: Shown, plan: PlannedGame | None, draft: Draft, names: Mapping[str, str]) -> Known:
    measure, fit = shown.measure, shown.fit
    facts = ask(responses, measure.code).set_index("athlete", drop=False)
    by_hand = {code for code, *_ in draft.by_hand}
    players = () if plan is None else plan.game.players
    return Known(
        names,
        {str(code): row for code, row in facts.to_dict("index").items() if code in names},
        # On this day, not on a usual one, to match the choices and the table of the plan.
        {
            each.plan.athlete: each.loss_pct
            for each in players
            if each.loss_pct is not None and each.plan.athlete in by_hand
        },
        {} if plan is None else _disagreeing(measure, plan, names),
        fit.standard_volume,
        fit.worthwhile_pct,
        measure.volume_unit,
    )


def _disagreeing(
    measure: Measure, plan: PlannedGame, names: Mapping[str, str]
) -> dict[str, list[str]]:
    """Return sentences for the athletes on whom other measures disagree, by code."""
    told: dict[str, list[str]] = {}
    for other in selection.measures_with_data().values():
        if other.code == measure.code:
            continue
        advice = ask(other_advice, other.code, without_lengths(plan.game))
        found = disagreements(plan, measure.worthwhile_pct, advice, other.worthwhile_pct)
        sentences = words.disagreements_in_words(found, names, measure, other)
        for code, sentence in zip(found["athlete"], sentences, strict=True):
            told.setdefault(code, []).append(sentence)
    return told


def _advised(plan: PlannedGame | None) -> dict[str, float | None]:
    players = () if plan is None else plan.game.players
    return {player.plan.athlete: player.plan.advised_volume for player in players}


def _check(game: Game, plan: PlannedGame | None) -> Check:
    """Return the check that says why a length may not be set; empty if it may."""
    players = {} if plan is None else {each.plan.athlete: each for each in plan.game.players}

    def check(code: str, length: float) -> str:
        if code not in players:
            return "Tick the athlete as here first."
        player = players[code]
        choice: PlanEntry = replace(player.plan, chosen_volume=length)
        try:
            check_choice(own_store(), choice, player.earlier_volume, typed=True)
        except StoreError as error:
            return error.message
        return ""

    return check


def _warn(plan: PlannedGame, waves: tuple[WaveLines, ...]) -> None:
    """Warn about athletes who would not be ready, with remedies, and about too few staff."""
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


def _save(game: Game, person: Person) -> None:
    store = own_store()
    with store.at_one_state(), one_answer():
        for player in game.players:
            check_choice(store, player.plan, player.earlier_volume)
    save_game(store, game, person.person)
