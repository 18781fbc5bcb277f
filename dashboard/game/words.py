"""Plain sentences about a game's warm-up: when, in how many waves, and what it costs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime

import pandas as pd

from dashboard.core import numbers
from dashboard.core.numbers import Row, counted, listed, number, percent, volume
from dashboard.game import prevention_words
from dashboard.game.advice import SHORTEST_GENERAL, PlannedGame
from dashboard.game.choices import WaveChoice
from dashboard.game.lines import Line, WaveLines
from dashboard.game.substitute_words import before_start, earlier_words
from dashboard.rules import goals
from dashboard.rules.protocol_words import BUILD_UP
from dashboard.screen import units
from db.plans.games import Game, Interval
from db.roster.measures import Measure
from modeling.curve import waiting
from modeling.curve.two_clocks import RECOVERY
from modeling.curve.waiting import CLOSE_MINUTES, LONG_MINUTES

REGION_ORDER = (
    "General part: moving, through the whole range. Ankles, then hips and knees; shoulder blades"
    f" and neck, then elbows. No static holds of 60 seconds and more. {BUILD_UP}"
)
SET_BY_HAND = "set by hand"
"""All that others see about a length set by hand: the reason may be about health."""
MOST_LISTED = 3


def clock(moment: datetime) -> str:
    """Return a time of day, such as 19:05."""
    return f"{moment:%H:%M}"


def start_times(starts: Sequence[datetime]) -> str:
    """Return when games start, as a list in words; of many, only the first and the last."""
    if len(starts) > MOST_LISTED:
        return f"{clock(starts[0])} to {clock(starts[-1])} ({len(starts)} starts)"
    return listed([clock(start) for start in starts])


def begins(game: Game) -> str:
    """Return when a game starts, in the club's word, such as throw-off 18:00."""
    return f"{game.start_word} {start_times(game.starts)}"


def long_day(moment: date) -> str:
    """Return a day as people say it, such as Saturday 7 March 2026."""
    return f"{moment:%A} {moment.day} {moment:%B %Y}"


def interval(found: Interval) -> str:
    """Return an estimate in % with its 90 % interval."""
    middle, low, high = found
    return f"{percent(middle)} ({numbers.between(low, high, 1)})"


def headline(waves: Sequence[WaveLines]) -> str:
    """Return the plan in one line."""
    first, which = min(wave.begins_at for wave in waves), "first wave" if waves[1:] else "wave"
    ready = max(wave.ready_at for wave in waves)
    early = [line for wave in waves for line in wave.early if line.begins_at < first]
    begins = (
        f"{_early(early)}, the {which} begins at {clock(first)}"
        if early
        else f"the first begins at {clock(first)}"
    )
    many = counted(len(waves), "wave").capitalize()
    return f"{many}: {begins}, all are ready at {clock(ready)}"


def _early(lines: Sequence[Line]) -> str:
    """Say who begins early, such as `Anna Berg from 14:19`."""
    first = min(lines, key=lambda line: line.begins_at)
    who = first.name if len(lines) == 1 else counted(len(lines), "athlete")
    return f"{who} from {clock(first.begins_at)}"


def occasion_sentence(game: Game, unit: str) -> str:
    """Return what a game's warm-up was planned for."""
    where = "in the hall" if game.place == "hall" else "outdoors"
    air = units.temperature(game.ambient_c)
    recovery = game.course.recovery_seconds if game.efforts_to_follow > 1 else 0.0
    between_two = f", {number(recovery)}\u00a0s between two" if recovery else ""
    return (
        f"{numbers.capital(begins(game))}, {where} at {air}. Warm up"
        f" for {goals.goal(game.efforts_to_follow)}{between_two}; {unit} after the general"
        f" part.{earlier_words(game)}"
    )


def grouping_sentence(game: Game) -> str:
    """Return what waves cost against everybody at their own advised length."""
    if game.grouping_cost_pct is None:
        return ""
    waves = counted(len(game.waves), "wave")
    verb = "costs" if len(game.waves) == 1 else "cost"
    return (
        f"{waves} {verb} {interval(game.grouping_cost_pct)} on average of"
        f" {counted(len(game.players), 'athlete')}, against everybody at their own length."
    )


def gap_sentence(waves: Sequence[WaveLines]) -> str:
    """Return what waiting before the start costs in the wave where it costs most."""
    by_rest: dict[float, list[tuple[Interval, int]]] = {}
    for wave in waves:
        if wave.gap_cost_pct is not None:
            by_rest.setdefault(wave.rest_minutes, []).append((wave.gap_cost_pct, wave.wave))
    dearest = {rest: max(costs) for rest, costs in sorted(by_rest.items())}
    told = [
        f"waiting {number(rest)} minutes costs {interval(cost)} in wave {wave}"
        for rest, (cost, wave) in dearest.items()
    ]
    if not told:
        return ""
    most = " at the most" if len(waves) > len(told) else ""
    return f"By the curves, {'; '.join(told)}{most}. These lengths already allow for it."


def gap_caution(game: Game) -> str:
    """Return a caution about a wait that is too short or too long; empty if it is neither."""
    if game.gap_minutes < CLOSE_MINUTES:
        return (
            f"Leave {number(CLOSE_MINUTES)} minutes between the last maximal effort and the start,"
            f" if the game allows. {waiting.AFTER_HARD_SETS} {waiting.WEAK}"
        )
    if game.gap_minutes > LONG_MINUTES:
        return (
            "After more than 15 minutes of waiting a few short explosive efforts again, just"
            " before the start, are worth it (Silva et al. 2018)."
        )
    return ""


def waiting_known(game: Game) -> str:
    """Return what is known about waiting; empty if the caution already says it."""
    return "" if game.gap_minutes < CLOSE_MINUTES else waiting.KNOWN


def recovery_sentence(game: Game) -> str:
    """Return where the assumed recovery between efforts comes from; empty if there is none."""
    if game.efforts_to_follow == 1 or not game.course.recovery_seconds:
        return ""
    return (
        f"What recovery gives back is a default: half of the fatigue in"
        f" {number(RECOVERY.default)} minutes ({numbers.between(RECOVERY.low, RECOVERY.high)})."
        " This squad's sessions can't show it yet."
    )


def choice_label(choice: WaveChoice) -> str:
    """Return a number of waves, what it costs, and when it begins."""
    cost = "" if choice.cost_pct is None else f", costs {interval(choice.cost_pct)}"
    late = f", {choice.late_minutes:.0f} min too long" if choice.late_minutes else ""
    return (
        f"{counted(choice.waves, 'wave')}{cost}, from {choice.begins_minutes:.0f} min before{late}"
    )


def late_sentence(late: Sequence[Line], free_from: datetime) -> str:
    """Return who would not be ready in time, grouped by how many minutes they are late."""
    by_minutes: dict[int, list[str]] = {}
    for line in late:
        minutes = int((free_from - line.begins_at).total_seconds() // 60)
        by_minutes.setdefault(minutes, []).append(line.name)
    told = [
        f"by {minutes} min {listed(names)}"
        for minutes, names in sorted(by_minutes.items(), reverse=True)
    ]
    return f"The court is free from {clock(free_from)}. Not ready in time: {'; '.join(told)}."


def remedies(plan: PlannedGame, late: Sequence[Line], number: int) -> list[str]:
    """Return what could be changed to get everybody ready for a start."""
    game = plan.game
    mine = [line for line in late if line.player.start_number == number]
    if game.free_from is None or not mine:
        return []
    earliest = min(line.begins_at for line in mine)
    told = [f"Begin at {clock(earliest)}: ask for the court that early."]
    now = sum(wave.start_number == number for wave in game.waves)
    fitting = [each for each in plan.choices[number] if not each.late_minutes and each.waves < now]
    if fitting:
        best = max(fitting, key=lambda each: each.waves)
        told.append(f"Fewer waves: {choice_label(best)}.")
    shorter = plan.late_shorter_minutes[number]
    if game.general_minutes > SHORTEST_GENERAL:
        left = f"still {shorter:.0f} min too long" if shorter else "then it fits"
        told.append(f"A general part of {numbers.number(SHORTEST_GENERAL)} minutes: {left}.")
    told.append("Set those who are not ready a shorter length of their own.")
    return told


def staff_sentence(most: int, moment: datetime, game: Game) -> str:
    """Return a caution if the starts need more staff than there are; empty if they don't."""
    if most <= game.staff:
        return ""
    return (
        f"At {clock(moment)} {counted(most, 'wave')} run at once, of different starts, and"
        f" {game.staff} can be led."
    )


def player_line(line: Line, wave: WaveLines, unit: str) -> str:
    """Return what one athlete does, in one line."""
    efforts = f" {clock(line.efforts_at)} {volume(line.volume, unit)};" if line.volume else ""
    again = f" {told};" if (told := before_start(line)) else ""
    return (
        f"{prevention_words.first(line)}"
        f"{clock(line.general_at)} general part, {number(line.player.general_minutes)} min;"
        f"{efforts} ready {clock(line.ready_at)};{again} start {clock(wave.starts_at)}"
    )


def choice_sentence(row: Row, unit: str) -> str:
    """Return the advised, standard and set length of one athlete, and what is lost at each."""
    if not row["sessions"]:
        whose = "Nothing of this athlete has been measured: this is the squad's advice."
    else:
        whose = f"From {numbers.evidence(row)}."
    parts = [
        f"{name} {volume(row[column], unit)}, loses"
        f" {interval((row[lost], row[f'{lost}_low'], row[f'{lost}_high']))}"
        for name, column, lost in (
            ("Own length", "advised", "lost_advised"),
            ("the standard", "standard", "lost_standard"),
            ("set", "set", "lost_set"),
        )
    ]
    return (
        f"{'; '.join(parts)}. Chance that the own length is as good as the athlete's best:"
        f" {numbers.chance(row['sure'])}. {whose}"
    )


def disagreements_in_words(
    rows: pd.DataFrame, names: Mapping[str, str], lead: Measure, other: Measure
) -> list[str]:
    """Return where two measures disagree, from `dashboard.game.measures.disagreements`."""
    return [
        f"{names[row['athlete']]}: {lead.name.lower()} asks for {row['way']} than its standard"
        f" ({number(row['advised'])} against {volume(row['standard'], lead.volume_unit)}),"
        f" {other.name.lower()} for {row['other_way']} ({number(row['other_advised'])} against"
        f" {volume(row['other_standard'], other.volume_unit)}). The goal here is"
        f" {lead.name.lower()}, so that leads."
        for row in rows.to_dict("records")
    ]


def dear_sentence(advice: pd.DataFrame, names: Mapping[str, str], worthwhile_pct: float) -> str:
    """Return who loses more than the smallest worthwhile change; empty if nobody does."""
    dear = advice[advice["lost_set"] > worthwhile_pct].sort_values("lost_set", ascending=False)
    own = dear["set"] == dear["advised"]
    return " ".join(
        f"More than {percent(worthwhile_pct)} is lost by {_losing(rows, names)}{why}."
        for rows, why in (
            (dear[~own], ": add a wave, or give them their own length"),
            (dear[own], " even at their own length, for its limit or what is not known yet"),
        )
        if len(rows)
    )


def _losing(rows: pd.DataFrame, names: Mapping[str, str]) -> str:
    return listed(
        [
            f"{names[row['athlete']]}"
            f" {interval((row['lost_set'], row['lost_set_low'], row['lost_set_high']))}"
            for row in rows.to_dict("records")
        ]
    )


def timeline_in_words(waves: Sequence[WaveLines], unit: str) -> str:
    """Return the text equivalent of the figure of the waves."""
    return " ".join(
        f"Wave {wave.wave}: {prevention_words.first(wave)}general part from"
        f" {clock(wave.general_at)},"
        f" {volume(wave.volume, unit)} from {clock(wave.efforts_at)}, ready at"
        f" {clock(wave.ready_at)}, start at {clock(wave.starts_at)},"
        f" {_who(wave)}."
        for wave in waves
    )


def wave_words(wave: WaveLines, unit: str) -> str:
    """Return a wave in a few words: its length, how many are in it, and who begins early."""
    return f"{volume(wave.volume, unit)}, {_who(wave)}"


def _who(wave: WaveLines) -> str:
    many = counted(len(wave.lines), "athlete")
    return f"{many}, {_early(wave.early)}" if wave.early else many
