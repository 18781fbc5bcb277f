"""Why a set length is not the athlete's usual one: it is never shown without its reason."""

from __future__ import annotations

from datetime import datetime
from math import inf
from typing import TYPE_CHECKING

from dashboard.core.numbers import Row, number
from dashboard.game.advice import WAVE_REASON
from dashboard.game.lines import Line
from dashboard.own import words
from dashboard.rules.goals import goal
from db.plans.kept_games import KeptGame

if TYPE_CHECKING:
    from dashboard.own.facts import CurveFacts

__all__ = ["game_reason", "game_why", "reason_given", "set_reason"]


def game_why(kept: KeptGame, line: Line, curve: CurveFacts | None, with_reason: bool) -> list[str]:
    """Return why a game's length is what it is: what the curve asks for, and what is lost.

    Parameters
    ----------
    kept, line
        The game, and the athlete's line in it.
    curve
        None if the athlete was not measured; then nothing is said.
    with_reason
        Whether to give the coach's own words, which are for the athlete alone.
    """
    if curve is None:
        return []
    most = curve.row.get("most_allowed", inf)
    because = game_reason(line, most, kept.saved_at, curve.fit.fitted_at)
    lost = curve.lost.get(line.volume)
    given = reason_given(line.player.plan.reason, with_reason)
    told = [words.why_sentence(curve.row, line.volume, lost, because), given]
    return [sentence for sentence in told if sentence]


def game_reason(
    line: Line, most: float, planned_at: datetime, fitted_at: datetime
) -> tuple[str, str]:
    """Return how a game's length came about, to follow `For this game`, and why it is not usual.

    Parameters
    ----------
    line
        The athlete's line in the game, as it may be done now.
    most
        What the club allows in a day.
    planned_at, fitted_at
        When the game's plan and the athlete's curve were made.
    """
    player, plan = line.player, line.player.plan
    length, advised = number(plan.chosen_volume), plan.advised_volume
    if plan.reason.startswith(WAVE_REASON):
        return f"you do {length} together with your wave", ""
    if player.own_length or advised is None or plan.chosen_volume > advised:
        return f"your coach set {length}", ""
    return f"it is {length}", _of_the_day(line, most, planned_at < fitted_at)


def _of_the_day(line: Line, most: float, newer_curve: bool) -> str:
    """Return why a length that nobody set by hand differs from the usual one."""
    player, plan = line.player, line.player.plan
    if plan.advised_volume is not None and plan.chosen_volume < plan.advised_volume:
        return "that is the most you may do on its day"
    if player.earlier_volume:
        return f"the {number(player.earlier_volume)} before your earlier game count as well"
    again = max((row.volume for row in line.bench), default=0.0)
    if again and plan.chosen_volume + player.half_time + again >= most:
        return "you keep a part of the day's most for coming on"
    if player.top_up:
        return f"{number(player.top_up)} more come shortly before the start"
    if newer_curve:
        return "it was planned before your newest curve"
    return "its air, its wait and its opening work are not those of a usual day"


def set_reason(row: Row, usual: float, in_trial: bool) -> str:
    """Return why a day's length differs from the usual one; empty if it does not.

    Parameters
    ----------
    row
        From `db.plans.lengths.choices`.
    usual
        The athlete's length on a usual day.
    in_trial
        Whether it is a session of a trial.
    """
    length = row["chosen_volume"]
    if number(length) == number(usual):
        return ""
    instead = f"Your usual length is {number(usual)}"
    if in_trial:
        return f"{instead}; this one was drawn for your trial."
    if length == row["advised_volume"]:
        what_for = goal(int(row["efforts_to_follow"]))
        return f"{instead}; this one is for {what_for}, in that day's circumstances."
    return f"{instead}; your coach set this one."


def reason_given(reason: str, with_reason: bool) -> str:
    """Return the coach's own words if asked for; a link, which may be passed on, omits them."""
    told = with_reason and reason and not reason.startswith(WAVE_REASON)
    return f"The reason given: {reason.rstrip('.')}." if told else ""
