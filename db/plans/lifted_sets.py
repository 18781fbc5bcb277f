"""Athletes' own sets with bar speed, for fitting load-velocity lines."""

from __future__ import annotations

import math
from datetime import date

import pandas as pd

from db.errors import BadInput
from db.file.frames import fetch, fetch_number
from db.file.store import Store

MOST_LOAD_KG = 1000.0
SLOWEST_M_S, FASTEST_M_S = 0.05, 6.0
SPEED_KINDS = ("mean", "mean propulsive", "peak")
BARS = ("free", "guided")


def lifted_sets(store: Store, athlete: str, exercise: str, until: date) -> pd.DataFrame:
    """List an athlete's sets of an exercise up to a day, oldest first.

    Returns
    -------
    DataFrame
        `set_id`, `lifted_on`, `load_kg`, `bar_speed_m_s`, `speed_kind`, `bar` (None if nobody
        said), `person`; sets that were struck out are left out.
    """
    with store.reading() as cursor:
        return fetch(
            cursor,
            "SELECT set_id, lifted_on, load_kg, bar_speed_m_s, speed_kind, bar, person "
            "FROM lifted_set "
            "WHERE athlete = ? AND exercise = ? AND lifted_on <= ? AND NOT struck_out "
            "ORDER BY lifted_on, set_id",
            [athlete, exercise, until],
        )


def add_lifted_set(
    store: Store,
    athlete: str,
    exercise: str,
    lifted_on: date,
    load_kg: float,
    bar_speed_m_s: float,
    person: str,
    speed_kind: str = "mean",
    bar: str | None = None,
) -> int:
    """Save one set and return its number.

    `speed_kind` is one of `SPEED_KINDS`, `bar` one of `BARS` or None if nobody said.

    Raises
    ------
    BadInput
        If there is no such athlete or exercise, or a number is not allowed.
    """
    if not (math.isfinite(load_kg) and 0 < load_kg <= MOST_LOAD_KG):
        raise BadInput(f"The load must be above 0, to {MOST_LOAD_KG:g} kg. Got {load_kg:g}.")
    if not SLOWEST_M_S <= bar_speed_m_s <= FASTEST_M_S:
        raise BadInput(
            f"The bar speed must be {SLOWEST_M_S:g} to {FASTEST_M_S:g} m/s. Got {bar_speed_m_s:g}."
        )
    if speed_kind not in SPEED_KINDS:
        raise BadInput(f"A speed is {', '.join(SPEED_KINDS)}. Got '{speed_kind}'.")
    if bar is not None and bar not in BARS:
        raise BadInput(f"A bar is {' or '.join(BARS)}. Got '{bar}'.")
    with store.writing(person, "add lifted set", f"{exercise} {athlete}") as cursor:
        for table, code in (("athlete", athlete), ("exercise", exercise)):
            if not fetch_number(cursor, f"SELECT count(*) FROM {table} WHERE {table} = ?", [code]):
                raise BadInput(f"There is no {table} '{code}'. Check the code.")
        return fetch_number(
            cursor,
            "INSERT INTO lifted_set (athlete, exercise, lifted_on, load_kg, bar_speed_m_s, "
            "speed_kind, bar, person) VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING set_id",
            [athlete, exercise, lifted_on, load_kg, bar_speed_m_s, speed_kind, bar, person],
        )


def strike_out_set(store: Store, set_id: int, person: str) -> None:
    """Strike out a set, so that it no longer counts; its row stays.

    Raises
    ------
    BadInput
        If there is no such set.
    """
    with store.writing(person, "strike out lifted set", str(set_id)) as cursor:
        struck = fetch_number(
            cursor,
            "UPDATE lifted_set SET struck_out = true WHERE set_id = ? AND athlete IN "
            "(SELECT athlete FROM athlete) RETURNING set_id",
            [set_id],
        )
        if not struck:
            raise BadInput(f"There is no set {set_id}.")
