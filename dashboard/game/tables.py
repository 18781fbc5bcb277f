"""A game's plan as a table, in the order in which people begin."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from dashboard.core import numbers
from dashboard.game import words
from dashboard.game.advice import PlannedGame
from dashboard.game.lines import WaveLines

DONE_WORDS = ("as planned", "changed", "skipped", "not recorded")


def game_table(plan: PlannedGame, waves: Sequence[WaveLines]) -> pd.DataFrame:
    """Return a row for everybody: `code`, what they do and when, and what is lost."""
    by_code = {row["athlete"]: row for row in plan.advice.to_dict("records")}
    rows = []
    for wave in waves:
        for line in wave.lines:
            player, row = line.player, by_code[line.player.plan.athlete]
            rows.append(
                {
                    "code": player.plan.athlete,
                    "from": words.clock(line.begins_at),
                    "athlete": line.name,
                    "does": line.volume,
                    "wave": f"{wave.wave}, own length" if player.own_length else f"{wave.wave}",
                    "lost %": row["lost_set"],
                    "lost 90 %": _ends(row, "lost_set"),
                    "advised": row["advised"],
                    "advised loses %": row["lost_advised"],
                    "advised 90 %": _ends(row, "lost_advised"),
                    "how sure": numbers.chance(row["sure"]),
                    "standard": row["standard"],
                    "standard loses %": row["lost_standard"],
                    "standard 90 %": _ends(row, "lost_standard"),
                    "role": player.role,
                    "data": numbers.counted(row["sessions"], "session")
                    if row["sessions"]
                    else "none: the squad's advice",
                    "reason": player.plan.reason if player.own_length else "",
                }
            )
    return pd.DataFrame(rows)


def _ends(row: numbers.Row, name: str) -> str:
    return numbers.between(row[f"{name}_low"], row[f"{name}_high"], 1)


def outcome_table(rows: pd.DataFrame) -> pd.DataFrame:
    """Return what was set and what came of it, from `db.plans.lengths.plans` rows."""
    return pd.DataFrame(
        {
            "athlete": rows["name"],
            "done": [done_word(row) for row in rows.to_dict("records")],
            "set": rows["chosen_volume"],
            "did": rows["done_volume"],
            "start value": rows["outcome"],
        }
    )


def done_word(row: numbers.Row) -> str:
    """Return how a choice was followed: one of `DONE_WORDS`."""
    if pd.isna(row["done_volume"]):
        return "not recorded"
    if row["done_volume"] == row["chosen_volume"]:
        return "as planned"
    return "changed" if row["done_volume"] else "skipped"
