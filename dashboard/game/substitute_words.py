"""Plain sentences about warming up again: on the bench, at half-time, for a second game."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from dashboard.core.numbers import between, listed, number, volume
from dashboard.game.lines import Line, WaveLines
from db.plans.games import Game
from modeling.curve.waiting import CLOSE_MINUTES

EASY = "easy moving only"
"""Shown when no maximal effort is needed, or none is left of the day's most: never nothing."""
NO_EFFORTS = "only the general part with its easier efforts"
"""Before a game, for athletes with nothing left of the day's most."""
FILLED_UP = "then easy, submaximal efforts"
"""When the most allowed keeps a length shorter than the curve asks for."""
FIRST = "Move easily and build up first."
"""Comes before anything that is done again, because sitting makes athletes cold."""
EASY_MINUTES = 3.0
"""Easy moving at the end of half-time (Koutsouridis et al. 2024: 3 minutes of easy cycling)."""
HALF_TIME_EVIDENCE = (
    "After sitting through half-time sprints were 2.6\u00a0% and jumps 7.6\u00a0% lower; after easy"
    " moving sprints were kept and jumps 3.1\u00a0% lower (Edholm, Krustrup and Randers, 22"
    " professionals, abstract)."
)


def again_words(top_up: float) -> str:
    """Return what is done again shortly before the start, after a long wait; empty if nothing."""
    if not top_up:
        return ""
    return f"move easily and build up, then {number(top_up)} more shortly before the start"


def before_start(line: Line) -> str:
    """Return what is done again before the start, or instead of efforts; empty if nothing."""
    again = line.player.top_up
    if not (again or line.volume):
        return NO_EFFORTS
    parts = (again_words(again), FILLED_UP if line.player.filled_up else "")
    return "; ".join(part for part in parts if part)


def bench_line(line: Line, wave: WaveLines, unit: str) -> str:
    """Return what an athlete does again after so many minutes of the game, or on the bench."""
    # Those who begin on the bench have been waiting since their warm-up ended.
    before = wave.rest_minutes if line.player.role == "bench" else 0.0
    if line.bench and not any(row.volume for row in line.bench):
        return EASY
    if len(volumes := {row.volume for row in line.bench}) == 1:
        return volume(volumes.pop(), unit)
    again = [
        f"after {row.rest_minutes - before:.0f} min {number(row.volume) if row.volume else EASY}"
        for row in line.bench
    ]
    return f"{', '.join(again)} ({unit})" if again else ""


def bench_words(line: Line, wave: WaveLines, unit: str) -> str:
    """Return the same as a sentence for the athlete; empty if they never wait on the bench."""
    told = bench_line(line, wave, unit)
    if not told:
        return ""
    when = (
        "As a substitute, again before coming on"
        if line.player.role == "bench"
        else "After sitting out, again before coming back"
    )
    return f"{when}: {told}." + ("" if told == EASY else f" {FIRST}")


def bench_heading(game: Game) -> str:
    """Return the heading over what substitutes do."""
    return "Rolling substitutions" if game.course.rolling else "Substitutes"


def bench_sentence(game: Game) -> str:
    """Return how to use the table of substitutes."""
    pace = 60 * game.minutes_per_effort
    return (
        f"Re-warm-up before coming on: {FIRST[:1].lower()}{FIRST[1:]} One every {pace:.0f} seconds,"
        f" end it {number(CLOSE_MINUTES)} minutes before if you can. It counts towards the day's"
        " most; who is near it before the game keeps a part for this. 0: easy, submaximal moving"
        " only; nobody comes on cold."
    )


def half_time_line(line: Line, unit: str) -> str:
    """Return what one athlete does again at half-time; empty if nothing."""
    again = line.player.half_time
    if not again:
        return ""
    return f"At half-time {volume(again, unit)} again, after easy moving and a build-up."


def half_time_heading(game: Game) -> str:
    """Return the heading over what is done at half-time."""
    return f"Half-time, {number(game.course.half_time_minutes)} min"


def half_time_sentence(game: Game, waves: Sequence[WaveLines], unit: str) -> str:
    """Return what everybody does at half-time; empty if there is none."""
    if not game.course.half_time_minutes:
        return ""
    by_volume: dict[float, list[str]] = {}
    for wave in waves:
        for line in wave.lines:
            by_volume.setdefault(line.player.half_time, []).append(line.name)
    nobody = by_volume.pop(0.0, [])
    told = [f"{volume(many, unit)}: {listed(names)}" for many, names in sorted(by_volume.items())]
    moving = f"Everybody moves easily for the last {number(EASY_MINUTES)} minutes."
    if not told:
        return f"{moving} Nobody needs {unit} again."
    rest = " All others: moving only." if nobody else ""
    return f"{moving} Then, after a short build-up, {'; '.join(told)}.{rest}"


def earlier_words(game: Game) -> str:
    """Return that it is the day's second game; empty if it isn't."""
    ended_at = game.course.earlier_ended_at
    return f" Second game of the day; the first ended at {ended_at:%H:%M}." if ended_at else ""


def earlier_sentence(game: Game, advice: pd.DataFrame, unit: str) -> str:
    """Return what an earlier game means for this warm-up; empty if there was none.

    Parameters
    ----------
    game
        The game as planned.
    advice
        The rows of `dashboard.game.advice.PlannedGame.advice`.
    unit
        Volume unit in words.
    """
    done = [player.earlier_volume for player in game.players if player.earlier_volume]
    if not game.course.earlier_ended_at:
        return ""
    if not done:
        return (
            "Nothing is known of the warm-up before the earlier game. Keep its plan first: it"
            " counts towards the day's most."
        )
    left = advice.loc[advice["left_over"] > 0, "left_over"].round()
    still = (
        f"about {between(left.min(), left.max())} {unit} of it are still in effect"
        if len(left) and left.max() > 0
        else "nothing of it is still in effect"
    )
    return (
        f"Before the earlier game {between(min(done), max(done))} {unit} were done, as recorded,"
        f" else as planned; they count towards the day's most, and {still}. How much that game has"
        " tired is not known."
    )
