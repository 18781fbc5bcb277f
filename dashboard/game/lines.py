"""A game's warm-up as people read it: what each wave and athlete does, and when."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from db.plans.games import BenchRow, Game, Interval, Player

__all__ = ["Line", "WaveLines", "late_lines", "most_at_once", "wave_lines"]


@dataclass(frozen=True)
class Line:
    """What one athlete does, and when.

    Attributes
    ----------
    name : str
    player : Player
    begins_at, general_at, efforts_at, ready_at : datetime
        When injury prevention, the general part and the efforts begin, and when the efforts end;
        rounded down to whole minutes. The first two are the same if prevention is in the general
        part.
    """

    name: str
    player: Player
    begins_at: datetime
    general_at: datetime
    efforts_at: datetime
    ready_at: datetime

    @property
    def volume(self) -> float:
        """What the athlete does."""
        return self.player.plan.chosen_volume

    @property
    def bench(self) -> tuple[BenchRow, ...]:
        """What the athlete does again before coming on."""
        return self.player.bench


@dataclass(frozen=True)
class WaveLines:
    """A wave with its athletes.

    Attributes
    ----------
    start_number, wave : int
    starts_at : datetime
        When the game starts.
    volume : float
    begins_at, general_at, efforts_at, ready_at : datetime
        As for a line, but for the wave itself.
    rest_minutes : float
    gap_cost_pct : Interval or None
    lines : tuple of Line
        By name, those who do the wave's own length first.
    """

    start_number: int
    wave: int
    starts_at: datetime
    volume: float
    begins_at: datetime
    general_at: datetime
    efforts_at: datetime
    ready_at: datetime
    rest_minutes: float
    gap_cost_pct: Interval | None
    lines: tuple[Line, ...]

    @property
    def early(self) -> tuple[Line, ...]:
        """Those who begin before the wave does, the earliest first."""
        early = [line for line in self.lines if line.begins_at < self.begins_at]
        return tuple(sorted(early, key=lambda line: line.begins_at))

    @property
    def first_at(self) -> datetime:
        """When the first of its athletes begins."""
        return self.early[0].begins_at if self.early else self.begins_at

    def as_the_wave(self, line: Line) -> bool:
        """Tell whether an athlete does what the wave does, when it does."""
        return (line.volume, line.begins_at) == (self.volume, self.begins_at)


def wave_lines(game: Game, names: Mapping[str, str]) -> tuple[WaveLines, ...]:
    """Return the waves of a game in the order in which they begin for each start.

    Parameters
    ----------
    game
        The game with its waves and players.
    names
        Names by code; an athlete without one is shown by code.
    """
    found = []
    for wave in game.waves:
        starts_at = game.starts[wave.start_number - 1]
        ready = starts_at - timedelta(minutes=wave.rest_minutes)
        begins, general, efforts = _back(ready, wave.volume, game.general_minutes, game)
        lines = [
            _line(player, names.get(player.plan.athlete, player.plan.athlete), ready, game)
            for player in game.players
            if (player.start_number, player.wave) == (wave.start_number, wave.wave)
        ]
        found.append(
            WaveLines(
                start_number=wave.start_number,
                wave=wave.wave,
                starts_at=starts_at,
                volume=wave.volume,
                begins_at=_whole(begins),
                general_at=_whole(general),
                efforts_at=_whole(efforts),
                ready_at=_whole(ready),
                rest_minutes=wave.rest_minutes,
                gap_cost_pct=wave.gap_cost_pct,
                lines=tuple(
                    sorted(lines, key=lambda line: (line.player.own_length, line.name.casefold()))
                ),
            )
        )
    return tuple(found)


def _line(player: Player, name: str, ready: datetime, game: Game) -> Line:
    begins, general, efforts = _back(ready, player.plan.chosen_volume, player.general_minutes, game)
    return Line(name, player, _whole(begins), _whole(general), _whole(efforts), _whole(ready))


def _back(
    ready: datetime, volume: float, general_minutes: float, game: Game
) -> tuple[datetime, datetime, datetime]:
    """Return when prevention, the general part and the efforts must begin to be ready in time."""
    efforts = ready - timedelta(minutes=volume * game.minutes_per_effort)
    general = efforts - timedelta(minutes=general_minutes)
    return general - timedelta(minutes=game.prevention_minutes), general, efforts


def _whole(moment: datetime) -> datetime:
    return moment.replace(second=0, microsecond=0)


def late_lines(waves: Sequence[WaveLines], free_from: datetime | None) -> tuple[Line, ...]:
    """Return those who won't be ready: their warm-up would begin before the court is free."""
    if free_from is None:
        return ()
    return tuple(
        line for wave in waves for line in wave.lines if line.begins_at < _whole(free_from)
    )


def most_at_once(waves: Sequence[WaveLines]) -> tuple[int, datetime]:
    """Return the most waves that run at once, over all starts, and since when.

    Parameters
    ----------
    waves
        One or more.
    """
    running = {
        wave.begins_at: sum(other.begins_at <= wave.begins_at < other.ready_at for other in waves)
        for wave in waves
    }
    most = max(running.values())
    return most, min(moment for moment, many in running.items() if many == most)
