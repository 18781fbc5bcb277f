"""Who may be tested and advised: proposals leave out athletes who are out or in pain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dashboard.core.once import once
from db.file.store import Store
from db.plans.kept_games import KeptGame
from db.roster.statuses import standings


@once
def blocked_codes(store: Store) -> frozenset[str]:
    """Return the codes of those who are out, or had pain that nobody has lifted."""
    rows = standings(store)
    return frozenset(rows.loc[rows["blocked"], "athlete"])


def without_blocked(store: Store, games: Sequence[KeptGame]) -> list[KeptGame]:
    """Return games without those who may not warm up, dropping empty games and waves."""
    blocked, left = blocked_codes(store), []
    for kept in games:
        players = tuple(p for p in kept.game.players if p.plan.athlete not in blocked)
        used = {(player.start_number, player.wave) for player in players}
        waves = tuple(w for w in kept.game.waves if (w.start_number, w.wave) in used)
        if players:
            left.append(replace(kept, game=replace(kept.game, players=players, waves=waves)))
    return left
