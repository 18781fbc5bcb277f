"""The choices before a start, own lengths or a number of waves, and what each costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd

from db.plans.games import Interval

if TYPE_CHECKING:
    from modeling import Estimate
    from modeling.curve.length import Length
    from modeling.game.game_warm_up import Court, GameWarmUp
    from modeling.game.squad_losses import SquadLosses

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class WaveChoice:
    """A number of waves, and what it costs.

    Attributes
    ----------
    waves : int
        0 means everybody's own length.
    start_times : int
        Number of different times at which athletes begin.
    lost_pct : Interval
        What is lost on average over everybody, in %.
    cost_pct : Interval or None
        Extra cost in % against everybody at their own length; None with own lengths, or if the
        coach has set all of them.
    begins_minutes : float
        How long before the start the first wave begins.
    late_minutes : float
        How long before the court is free that is; 0 if it fits.
    """

    waves: int
    start_times: int
    lost_pct: Interval
    cost_pct: Interval | None
    begins_minutes: float
    late_minutes: float


@dataclass(frozen=True)
class Weighed:
    """What the choices before a start are weighed by.

    Attributes
    ----------
    losses, court, lengths
        For those who are here; the lengths are their own.
    free_minutes : float or None
        How long before the start the court becomes free; None if it is always free.
    """

    losses: SquadLosses
    court: Court
    lengths: Sequence[Length]
    free_minutes: float | None

    def choice(self, warm_up: GameWarmUp, waves: int) -> WaveChoice:
        """Return what a warm-up costs; `waves` is 0 for own lengths."""
        from modeling.game.squad_losses import mean_estimate
        from modeling.game.timeline import most_late

        length, rest = warm_up.length, warm_up.rest_minutes
        top_up = np.array([each.top_up for each in self.lengths])
        lost = self.losses.lost(length[:, None], rest[:, None], top_up[:, None])
        begins = rest + length * self.court.minutes_per_effort + self.losses.general_minutes
        return WaveChoice(
            waves=waves,
            start_times=len(np.unique(np.ceil(begins))),
            lost_pct=_ends(mean_estimate(lost)),
            cost_pct=interval(warm_up.cost_pct),
            begins_minutes=max(turn.begins for turn in warm_up.turns),
            late_minutes=most_late(warm_up.turns, self.free_minutes),
        )


def interval(found: Estimate | None) -> Interval | None:
    """Return an estimate with the ends of its interval."""
    return None if found is None else _ends(found)


def _ends(found: Estimate) -> Interval:
    return found.median, found.low, found.high


def together(chosen: Sequence[tuple[WaveChoice, int]]) -> tuple[int, Interval]:
    """Return the number of start times over all starts, and what is lost on average.

    Parameters
    ----------
    chosen
        For each start, the choice and the number of athletes.
    """
    lost = mean_over([(choice.lost_pct, many) for choice, many in chosen])
    return sum(choice.start_times for choice, _ in chosen), lost or (0.0, 0.0, 0.0)


def mean_over(costs: Sequence[tuple[Interval | None, int]]) -> Interval | None:
    """Return the mean over starts, weighted by athletes; over several, its interval is too wide."""
    known = [(cost, many) for cost, many in costs if cost is not None]
    if not known:
        return None
    weights = [many for _, many in known]
    low, middle, high = (
        float(np.average([cost[end] for cost, _ in known], weights=weights)) for end in (1, 0, 2)
    )
    return middle, low, high


def day_lengths(losses: SquadLosses, rest_minutes: npt.ArrayLike) -> list[Length]:
    """Return how much everybody does on the day, with this rest before the start."""
    from modeling.day.goal_advice import length_of

    rests = np.broadcast_to(np.asarray(rest_minutes, dtype=float), len(losses.curves))
    return [
        length_of(
            curve,
            losses.to_follow,
            replace(losses.of_athlete(place), rest_minutes=float(rest)),
        )
        for place, (curve, rest) in enumerate(zip(losses.curves, rests, strict=True))
    ]


def advice_rows(
    losses: SquadLosses,
    lengths: Sequence[Length],
    rest_minutes: float,
    done: FloatArray,
    rest_after: FloatArray,
) -> pd.DataFrame:
    """Return everybody's own and set length, and what is lost at both and at the standard.

    Parameters
    ----------
    losses, lengths
        Of n athletes.
    rest_minutes
        Between the warm-up and the start.
    done, rest_after
        What each does, and the rest after it: arrays of shape (n,).

    Returns
    -------
    pandas.DataFrame
        The columns of `dashboard.game.advice.PlannedGame.advice`.
    """
    from modeling.game.squad_losses import estimates

    curves = losses.curves
    own = np.array([each.volume for each in lengths])
    standard = np.array([curve.standard_volume for curve in curves])
    top_up = np.array([[each.top_up] for each in lengths])
    lost_own = losses.lost(own[:, None], rest_minutes, top_up)
    rows = pd.DataFrame(
        {
            "athlete": [curve.athlete for curve in curves],
            "sessions": [curve.sessions for curve in curves],
            "efforts": [curve.efforts for curve in curves],
            "advised": own,
            "standard": standard,
            "set": done,
            "left_over": losses.left_over,
            "sure": (lost_own <= curves[0].worthwhile_pct).mean(axis=1),
        }
    )
    losts = {
        "lost_advised": lost_own,
        "lost_standard": losses.lost(standard[:, None], rest_minutes),
        "lost_set": losses.lost(done[:, None], rest_after[:, None], top_up),
    }
    for name, drawn in losts.items():
        found = estimates(drawn)
        rows[name] = [each.median for each in found]
        rows[f"{name}_low"] = [each.low for each in found]
        rows[f"{name}_high"] = [each.high for each in found]
    return rows
