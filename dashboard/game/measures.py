"""What other measures advise before a game, if they disagree."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from dashboard.fits.kept_curves import kept_draws
from dashboard.game.course import circumstances, work_to_follow
from db.file.store import Store
from db.plans.games import Game, Player

if TYPE_CHECKING:
    from dashboard.game.advice import PlannedGame

ADVICE_COLUMNS = ["athlete", "sessions", "advised", "standard", "lost_standard"]


def other_advice(store: Store, measure: str, game: Game) -> pd.DataFrame:
    """Return what another measure advises for those of a game's athletes that it has data on.

    Returns
    -------
    pandas.DataFrame
        `athlete, sessions, advised, standard, lost_standard`; volumes in the other measure's
        unit, and what is lost at its standard in %.
    """
    from dashboard.game.choices import advice_rows, day_lengths
    from modeling.game.squad_losses import squad_losses

    curves = {code: each for code, each in kept_draws(store, measure).items() if each.sessions}
    parts = []
    for number in range(1, len(game.starts) + 1):
        players = [
            player
            for player in game.players
            if player.start_number == number and player.plan.athlete in curves
        ]
        if not players:
            continue
        losses = squad_losses(
            [curves[player.plan.athlete] for player in players],
            work_to_follow(game),
            circumstances(game, number),
            [player.general_minutes for player in players],
        )
        standard = np.array([curve.standard_volume for curve in losses.curves])
        rest = np.full(len(players), game.gap_minutes)
        lengths = day_lengths(losses, game.gap_minutes)
        rows = advice_rows(losses, lengths, game.gap_minutes, standard, rest)
        parts.append(rows[ADVICE_COLUMNS])
    return pd.concat(parts) if parts else pd.DataFrame(columns=ADVICE_COLUMNS)


def disagreements(
    plan: PlannedGame, worthwhile_pct: float, other: pd.DataFrame, other_worthwhile_pct: float
) -> pd.DataFrame:
    """Return the athletes for whom one measure advises less than its standard, the other more.

    Parameters
    ----------
    plan
        The plan by the measure that leads.
    worthwhile_pct, other_worthwhile_pct
        If no more than this is lost at the standard, it is as good as the advice.
    other
        From `other_advice`.

    Returns
    -------
    pandas.DataFrame
        `athlete, advised, standard, way, other_advised, other_standard, other_way`; ways are
        `less` and `more`.
    """
    rows = plan.advice[plan.advice["sessions"] > 0].merge(
        other, on="athlete", suffixes=("", "_other")
    )
    way = _way(rows["advised"], rows["standard"], rows["lost_standard"], worthwhile_pct)
    other_way = _way(
        rows["advised_other"],
        rows["standard_other"],
        rows["lost_standard_other"],
        other_worthwhile_pct,
    )
    ways: Mapping[int, str] = {-1: "less", 1: "more"}
    found = rows.assign(
        way=way.map(ways),
        other_way=other_way.map(ways),
        other_advised=rows["advised_other"],
        other_standard=rows["standard_other"],
    )
    columns = "athlete advised standard way other_advised other_standard other_way".split()
    return found.loc[way * other_way == -1, columns].reset_index(drop=True)


def _way(
    advised: pd.Series, standard: pd.Series, lost_pct: pd.Series, worthwhile_pct: float
) -> pd.Series:
    """Return -1 if the advice is below the standard, 1 if above, 0 if it makes no difference."""
    apart = (advised - standard).astype(float)
    matters = lost_pct.astype(float) > worthwhile_pct
    return (apart > 0).astype(int).where(matters, 0) - (apart < 0).astype(int).where(matters, 0)


def without_lengths(game: Game) -> Game:
    """Return a game without anybody's length, so it stays the same whatever is set."""
    players = tuple(
        Player(
            replace(player.plan, chosen_volume=0.0, reason=""),
            player.role,
            player.start_number,
            1,
            own_length=False,
            general_minutes=player.general_minutes,
        )
        for player in game.players
    )
    return replace(game, waves=(), players=players, grouping_cost_pct=None)
