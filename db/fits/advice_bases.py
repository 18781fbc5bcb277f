"""What advice is worked out from, as saved with a fit."""

from __future__ import annotations

from dataclasses import dataclass

import duckdb
import numpy as np
import numpy.typing as npt
import pandas as pd

from db.file.frames import complete, fetch, insert
from db.file.store import Store

__all__ = [
    "CIRCUMSTANCES",
    "CONSTANT_COLUMNS",
    "DRAW_COLUMNS",
    "EFFECT_COLUMNS",
    "AdviceBase",
    "AdviceRows",
    "KeptDraws",
    "account_constants",
    "advice_base",
    "curve_draws",
    "insert_advice_base",
    "level_effects",
]

CONSTANT_COLUMNS = "constant status value low high".split()
EFFECT_COLUMNS = "effect change_pct change_pct_low change_pct_high".split()
DRAW_COLUMNS = "athlete draws change".split()
CIRCUMSTANCES = "general_minutes rest_minutes ambient_c hour".split()


@dataclass(frozen=True)
class AdviceBase:
    """The squad's part of what advice is worked out from.

    Attributes
    ----------
    standard_volume : float
        The standard, as done in the usual circumstances.
    general_minutes, rest_minutes, ambient_c, hour : float
        The usual circumstances.
    volumes : array of shape (n_knots,)
        Volumes in effect at which the drawn curves are given.
    """

    standard_volume: float
    general_minutes: float
    rest_minutes: float
    ambient_c: float
    hour: float
    volumes: npt.NDArray[np.float64]


@dataclass(frozen=True)
class AdviceRows:
    """All that is saved: the base, `CONSTANT_COLUMNS`, `EFFECT_COLUMNS`, `DRAW_COLUMNS`."""

    base: AdviceBase
    constants: pd.DataFrame
    effects: pd.DataFrame
    draws: pd.DataFrame


@dataclass(frozen=True)
class KeptDraws:
    """One athlete's drawn curves.

    Attributes
    ----------
    athlete : str
    sessions, efforts : int
        Counts behind them.
    change : bytes
        32-bit numbers, a row of draws for each of the base's volumes.
    """

    athlete: str
    sessions: int
    efforts: int
    change: bytes


def insert_advice_base(
    cursor: duckdb.DuckDBPyConnection, fit_id: int, measure: str, rows: AdviceRows
) -> None:
    """Save what advice is worked out from, within a unit of work; delete older drawn curves.

    The curves of older fits stay (`curve_point`). The draws are large, so only those of the newest
    fit are kept. Rows of a fit of an earlier day have no draws, and leave those that are there.

    Raises
    ------
    BadInput
        If a frame lacks a column or a value.
    """
    constants = complete(rows.constants, CONSTANT_COLUMNS, "constants", "value", "high")
    effects = complete(rows.effects, EFFECT_COLUMNS, "effects on the level")
    draws = complete(rows.draws, DRAW_COLUMNS, "drawn curves")
    if len(draws):
        cursor.execute(
            "DELETE FROM curve_draw WHERE fit_id IN (SELECT fit_id FROM fit WHERE measure = ?)",
            [measure],
        )
    base = pd.DataFrame([{"fit_id": fit_id, **vars(rows.base)}])
    insert(cursor, "advice_base", base)
    insert(cursor, "account_constant", constants.assign(fit_id=fit_id))
    insert(cursor, "level_effect", effects.assign(fit_id=fit_id))
    insert(cursor, "curve_draw", draws.assign(fit_id=fit_id))


def advice_base(store: Store, measure: str, fit_id: int | None = None) -> AdviceBase | None:
    """Return the base of a measure's newest fit, or of a given one; None if it has none."""
    columns = ["standard_volume", *CIRCUMSTANCES, "volumes"]
    with store.reading() as cursor:
        row = cursor.execute(
            f"SELECT {', '.join(columns)} FROM {_of_fit('advice_base')}", [measure, fit_id]
        ).fetchone()
    if row is None:
        return None
    facts = dict(zip(columns, row, strict=True))
    return AdviceBase(**facts | {"volumes": np.array(facts["volumes"])})


def account_constants(store: Store, measure: str, fit_id: int | None = None) -> pd.DataFrame:
    """List the constants of a measure's newest fit, or of a given one: `CONSTANT_COLUMNS`."""
    columns = ", ".join(f'"{column}"' for column in CONSTANT_COLUMNS)
    with store.reading() as cursor:
        return fetch(
            cursor,
            f'SELECT {columns} FROM {_of_fit("account_constant")} ORDER BY "constant"',
            [measure, fit_id],
        )


def level_effects(store: Store, measure: str) -> pd.DataFrame:
    """List what moves the level in a measure's newest fit: `EFFECT_COLUMNS`."""
    with store.reading() as cursor:
        return fetch(
            cursor,
            f"SELECT {', '.join(EFFECT_COLUMNS)} FROM {_of_fit('level_effect')} ORDER BY effect",
            [measure, None],
        )


def _of_fit(table: str) -> str:
    return (
        f"{table} WHERE fit_id = coalesce($2, (SELECT fit_id FROM latest_fit WHERE measure = $1))"
    )


def curve_draws(store: Store, measure: str, athlete: str | None = None) -> list[KeptDraws]:
    """List the drawn curves of a measure's newest fit by athlete."""
    with store.reading() as cursor:
        rows = cursor.execute(
            "SELECT athlete, sessions, efforts, change FROM latest_curve_draw "
            "WHERE measure = $1 AND ($2 IS NULL OR athlete = $2) ORDER BY athlete",
            [measure, athlete],
        ).fetchall()
    return [KeptDraws(*row) for row in rows]
