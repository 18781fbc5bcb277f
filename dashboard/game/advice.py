"""Work out a game's warm-up from saved curves: what is advised, and the waves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from dashboard.game.choices import WaveChoice, mean_over
from dashboard.game.course import HALF_TIME_MINUTES
from dashboard.rules.club_limits import limits_by_athlete
from dashboard.rules.game_work import ONE_BEST, GameWork
from dashboard.rules.protocol_words import LEAST_PACE_MINUTES
from db.errors import BadInput
from db.file.store import Store
from db.plans.game_course import Course
from db.plans.games import Game
from db.plans.lengths import plans
from db.plans.start_words import START_WORDS
from db.roster.measures import get_measure
from modeling.game.timeline import MOST_WAVES
from modeling.lifting.general_part import USUAL_MINUTES

if TYPE_CHECKING:
    from modeling import CurveDraws

SLOW_MINUTES = 15.0
"""General part of somebody who is stiff or slow to start (common practice, no source)."""
GENERAL_MINUTES = 12.0
"""Default: about 5 minutes of jogging and 7 of dynamic work (Silva et al. 2018, Sports Med
48:2285-2299, abstract)."""
SHORTEST_GENERAL = USUAL_MINUTES["game"][0]
"""What the general part may be cut to if time is short."""
PREVENTION_MINUTES, GAP_MINUTES, STAFF = 5.0, 5.0, 2
"""Other defaults for a game (common practice, no source)."""
WAVE_REASON = "with wave "
"""Start of the reason saved with a length that comes from a wave."""


@dataclass(frozen=True)
class Occasion:
    """What a coach says about a game; each athlete is in one of the starts, or away.

    Attributes
    ----------
    game : Game
        Its facts and starts; waves and players are yet to be worked out.
    start_of : tuple of (str, int)
        Code and start of everybody who warms up.
    bench, slow : tuple of str
        Codes of those who begin on the bench, and of those who need a longer general part.
    waves : tuple of int or None
        Number of waves for each start; None means own lengths, all ready together.
    earlier : tuple of (str, float)
        Code of everybody in an earlier game of the day, and what they did for it.
    set_by_hand : tuple of (str, float, str) or None
        Code, length and reason for every length the coach has set; None means as saved.
    most_waves : int
        The most waves to weigh up; each extra one takes longer to work out.
    """

    game: Game
    start_of: tuple[tuple[str, int], ...]
    bench: tuple[str, ...] = ()
    slow: tuple[str, ...] = ()
    waves: tuple[int | None, ...] = ()
    earlier: tuple[tuple[str, float], ...] = ()
    set_by_hand: tuple[tuple[str, float, str], ...] | None = None
    most_waves: int = MOST_WAVES

    def general_minutes(self, athlete: str) -> float:
        """Return the minutes of an athlete's general part."""
        usual = self.game.general_minutes
        return max(usual, SLOW_MINUTES) if athlete in self.slow else usual


@dataclass(frozen=True)
class PlannedGame:
    """A game with its waves, and what led to them.

    Attributes
    ----------
    game : Game
    choices : dict of int to tuple of WaveChoice
        For each start, what 1, 2, ... waves cost.
    own : dict of int to WaveChoice
        For each start, what everybody's own length costs.
    late_shorter_minutes : dict of int to float
        For each start, how late the waves would be with the shortest general part.
    advice : DataFrame
        A row per athlete: `athlete`, `sessions`, `efforts`, `advised`, `standard`, `set`, `sure`
        (chance that no more than the worthwhile change is lost at the advised length),
        `left_over` (from an earlier warm-up that day), and
        `lost_advised`, `lost_standard`, `lost_set` with `_low` and `_high`, in % against
        their own best length.
    """

    game: Game
    choices: dict[int, tuple[WaveChoice, ...]]
    own: dict[int, WaveChoice]
    late_shorter_minutes: dict[int, float]
    advice: pd.DataFrame


def plan_game(store: Store, occasion: Occasion, kept: Mapping[str, CurveDraws]) -> PlannedGame:
    """Work out the waves of a game from saved curves and the lengths that the coach has set.

    Parameters
    ----------
    store
        The store.
    occasion
        The game.
    kept
        Saved curves by athlete, from `dashboard.fits.kept_curves.kept_draws`. Athletes newer than
        the curves get the squad's.

    Raises
    ------
    BadInput
        If there are no saved curves, or nobody warms up.
    """
    from dashboard.game.start import planned_start

    game = occasion.game
    curves = curves_for(kept, [athlete for athlete, _ in occasion.start_of])
    measure = get_measure(store, game.measure)
    standard = next(iter(curves.values())).standard_volume
    # Limits go by age on the day, and athletes newer than the curves need them too.
    limits = limits_by_athlete(store, measure, standard, curves, game.day)
    curves = {code: replace(curve, limits=limits[code]) for code, curve in curves.items()}
    chosen = own_choices(store, game)
    if occasion.set_by_hand is not None:
        chosen = {code: (length, reason) for code, length, reason in occasion.set_by_hand}
    numbers = sorted({start for _, start in occasion.start_of})
    parts = [planned_start(occasion, number, curves, chosen) for number in numbers]
    players = [player for part in parts for player in part.players]
    return PlannedGame(
        game=replace(
            game,
            grouping_cost_pct=mean_over([(part.cost_pct, len(part.players)) for part in parts]),
            waves=tuple(wave for part in parts for wave in part.waves),
            players=tuple(sorted(players, key=lambda player: player.plan.athlete)),
        ),
        choices={part.number: part.choices for part in parts},
        own={part.number: part.own for part in parts},
        late_shorter_minutes={part.number: part.late_shorter_minutes for part in parts},
        advice=pd.concat([part.advice for part in parts], ignore_index=True),
    )


def usual_game(
    measure: str,
    day: date,
    starts: tuple[datetime, ...],
    kept: Mapping[str, CurveDraws],
    work: GameWork = ONE_BEST,
    minutes_per_effort: float = LEAST_PACE_MINUTES,
    start_word: str = START_WORDS[0],
) -> Game:
    """Return a game with the defaults and the squad's usual temperature.

    Parameters
    ----------
    measure, day, starts
        Code of the measure that leads, the day, and when the game starts.
    kept
        Saved curves by athlete, which hold the usual temperature.
    work
        What the warm-up is for: one best effort, or a game's opening work (`game_work`), where
        the average counts.
    minutes_per_effort
        The pace of the efforts (`pace_minutes`).
    start_word
        What the club calls the start of a game.
    """
    usual = next(iter(kept.values())).usual if kept else None
    return Game(
        measure=measure,
        day=day,
        goal="best" if work.efforts == 1 else "sustained",
        efforts_to_follow=work.efforts,
        place="hall",
        ambient_c=20.0 if usual is None else float(round(usual.ambient_c)),
        general_minutes=GENERAL_MINUTES,
        minutes_per_effort=minutes_per_effort,
        gap_minutes=GAP_MINUTES,
        free_from=None,
        staff=STAFF,
        grouping_cost_pct=None,
        starts=starts,
        waves=(),
        players=(),
        prevention_minutes=PREVENTION_MINUTES,
        course=Course(work.recovery_seconds, HALF_TIME_MINUTES),
        start_word=start_word,
    )


def clock_time(text: str, day: date) -> datetime:
    """Return a time of day, as it was typed, on a day.

    Raises
    ------
    BadInput
        If the text is not a time of day.
    """
    try:
        return datetime.combine(day, datetime.strptime(text.strip(), "%H:%M").time())
    except ValueError as error:
        raise BadInput(f"'{text.strip()}' is not a time of day such as 19:30.") from error


def curves_for(kept: Mapping[str, CurveDraws], athletes: Sequence[str]) -> dict[str, CurveDraws]:
    """Return the curves of some athletes; those newer than the fit get the squad's.

    Raises
    ------
    BadInput
        If there are no curves, or no athletes.
    """
    if not kept or not athletes:
        raise BadInput(
            "There is nothing to plan from: it takes curves that were worked out, and somebody"
            " who is here."
        )
    return {code: kept.get(code) or _squad_curve(kept, code) for code in athletes}


def _squad_curve(kept: Mapping[str, CurveDraws], athlete: str) -> CurveDraws:
    """Return the squad's curves: those of an athlete without sessions, else a mix of all."""
    untested = [curve for curve in kept.values() if not curve.sessions]
    if untested:
        return replace(untested[0], athlete=athlete)
    first = next(iter(kept.values()))
    many = first.change.shape[1]
    every = np.concatenate([curve.change for curve in kept.values()], axis=1)
    even = np.linspace(0, every.shape[1] - 1, many).round().astype(int)
    standard = first.standard_volume
    return replace(
        first,
        athlete=athlete,
        sessions=0,
        efforts=0,
        change=every[:, even],
        needs=replace(first.needs, call="not known", advised_volume=standard, good_range=None),
    )


def own_choices(store: Store, game: Game) -> dict[str, tuple[float, str]]:
    """Return length and reason of everybody whose saved length was set by hand.

    A length was set by hand if it isn't the advised one or has a reason, unless it came from a
    wave.
    """
    rows = plans(store, game.day, game.measure, game.course.second_game)
    own = rows[
        ((rows["chosen_volume"] != rows["advised_volume"]) | (rows["reason"] != ""))
        & ~rows["reason"].str.startswith(WAVE_REASON)
    ]
    lengths = zip(own["chosen_volume"].astype(float), own["reason"], strict=True)
    return dict(zip(own["athlete"], lengths, strict=True))
