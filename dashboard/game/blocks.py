"""The blocks of lines on a game's printed sheet: waves, half-time and substitutes."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from dashboard.core.numbers import number, volume
from dashboard.game import prevention_words, substitute_words, words
from dashboard.game.columns import Block, BlockLine
from dashboard.game.course import BENCH_MINUTES
from dashboard.game.lines import Line, WaveLines
from dashboard.game.words import SET_BY_HAND
from db.plans.games import Game


def sheet_blocks(game: Game, waves: tuple[WaveLines, ...], unit: str) -> list[Block]:
    """Return a block of lines for each wave, then those for half-time and substitutes."""
    blocks = [
        Block(
            title=f"{words.clock(wave.begins_at)}  Wave {wave.wave}",
            under=f"{prevention_words.short(game)}{game.general_minutes:g} min general,"
            + (
                f" {volume(wave.volume, unit)} from {words.clock(wave.efforts_at)},"
                if wave.volume
                else ""
            )
            + f" ready {words.clock(wave.ready_at)}",
            lines=tuple(_wave_line(line, wave) for line in wave.lines),
        )
        for wave in waves
        if wave.lines
    ]
    return blocks + _again_blocks(game, waves, unit)


def _wave_line(line: Line, wave: WaveLines) -> BlockLine:
    """Return an athlete's line, with any difference from the wave under it."""
    plan, under = line.player.plan, ""
    if line.player.own_length:
        advised = plan.advised_volume
        under = f"from {words.clock(line.begins_at)}: {SET_BY_HAND}" + (
            "" if advised is None else f" (own length {number(advised)})"
        )
    elif not wave.as_the_wave(line):
        same = line.efforts_at - line.general_at == wave.efforts_at - wave.general_at
        general = "" if same else f", {line.player.general_minutes:g} min general"
        efforts = f", efforts {words.clock(line.efforts_at)}" if line.volume else ""
        under = f"from {words.clock(line.begins_at)}{general}{efforts}"
    bench = " (sub)" if line.player.role == "bench" else ""
    return BlockLine(
        f"{line.name}{bench}",
        (number(line.volume),),
        "; ".join(part for part in (under, substitute_words.before_start(line)) if part),
    )


def _again_blocks(game: Game, waves: Sequence[WaveLines], unit: str) -> list[Block]:
    """Return a block for half-time and one for the bench, if there are any.

    With rolling substitutions everybody is on the bench at times. The sheet names those who begin
    there and has one line for the others, with their medians. The phone view shows everybody's own
    numbers.
    """
    blocks = []
    if told := substitute_words.half_time_sentence(game, waves, unit):
        blocks.append(Block(substitute_words.half_time_heading(game), told, ()))
    lines = [line for wave in waves for line in wave.lines if line.bench]
    begin_there = [line for line in lines if line.player.role == "bench"]
    others = [line for line in lines if line.player.role != "bench"]
    rows = [_row(line.name, [row.volume for row in line.bench]) for line in begin_there]
    if others:
        each = zip(*([row.volume for row in line.bench] for line in others), strict=True)
        name = "others, about" if rows else "everybody, about"
        rows.append(_row(name, [median(volumes) for volumes in each]))
    if rows:
        where = "on the bench" if game.course.rolling else "of the game"
        minutes = BlockLine("minutes", tuple(map(number, BENCH_MINUTES)), bold=False, box=False)
        blocks.append(
            Block(
                title=f"Substitutes: {unit} again",
                under=f"by minutes {where}. {substitute_words.bench_sentence(game)}",
                lines=(minutes, *rows),
                headed=True,
            )
        )
    return blocks


def _row(name: str, volumes: Sequence[float]) -> BlockLine:
    return BlockLine(name, tuple(number(round(volume)) for volume in volumes), box=False)
