"""Named squads: who belongs to them, and which coaches see them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import duckdb
import pandas as pd

from db.file.frames import fetch
from db.file.store import Store

Member = Literal["athlete", "person"]


def squad_members(store: Store) -> pd.DataFrame:
    """List who belongs to which squad.

    Returns
    -------
    DataFrame
        `squad`, `athlete`; an athlete in several squads has several rows.
    """
    with store.reading() as cursor:
        return fetch(cursor, "SELECT squad, athlete FROM athlete_squad ORDER BY squad, athlete")


def squad_names(store: Store) -> list[str]:
    """List the squads that have athletes."""
    return sorted(set(squad_members(store)["squad"]))


def squads_column(member: Member) -> str:
    """Return the SQL column that lists the squads of each athlete or person."""
    return (
        f"(SELECT list(squad ORDER BY squad) FROM {member}_squad s "
        f"WHERE s.{member} = {member}.{member})"
    )


def put_in_squads(
    cursor: duckdb.DuckDBPyConnection, member: Member, code: str, squads: Sequence[str]
) -> None:
    """Set the squads of an athlete, or the squads that a coach sees."""
    cursor.execute(f"DELETE FROM {member}_squad WHERE {member} = ?", [code])
    for squad in squads:
        cursor.execute(f"INSERT INTO {member}_squad ({member}, squad) VALUES (?, ?)", [code, squad])
