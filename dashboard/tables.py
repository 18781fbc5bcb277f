"""Rows as people read them: plain column names, every estimate beside its interval."""

from __future__ import annotations

import pandas as pd

from dashboard import numbers
from db.people.accounts import Person


def ranking(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the ranking of `dashboard.reads.squad` rows, one line per athlete.

    Estimates are numbers, so that a column sorts by size; the column after each holds its
    90 % interval. `lost` is at the length, `at standard` at the standard volume.
    """
    return pd.DataFrame(
        {
            "athlete": rows["name"],
            "call": rows["call"],
            "length": rows["length"],
            "lost %": rows["lost_pct"].round(1),
            "lost 90 %": _intervals(rows, "lost_pct", 1),
            "good range": _intervals(rows, "good", 0, ("_from", "_to")),
            "curve": rows["small_curve"],
            "best": rows["best_volume"].round(1),
            "best 90 %": _intervals(rows, "best_volume", 0),
            "at standard %": rows["loss_at_standard_pct"].round(1),
            "at standard 90 %": _intervals(rows, "loss_at_standard_pct", 1),
            "gain %": rows["gain_pct"].round(1),
            "gain 90 %": _intervals(rows, "gain_pct", 1),
            **{
                f"{call} %": _chances(rows[f"chance_{call}"])
                for call in ("short", "either", "long")
            },
            "sessions": rows["sessions"],
            "efforts": rows["efforts"],
            "last test": rows["last_session"],
        }
    )


def day_plan(rows: pd.DataFrame, standard: float) -> pd.DataFrame:
    """Return the plan of a day from `dashboard.plan_sheet.plan_rows`."""
    return pd.DataFrame(
        {
            "athlete": rows["name"],
            "set": rows["chosen_volume"],
            "length": rows["length"],
            "lost %": rows["lost_pct"].round(1),
            "lost 90 %": _intervals(rows, "lost_pct", 1),
            "good range": _intervals(rows, "good", 0, ("_from", "_to")),
            "standard": standard,
            "call": rows["call"],
            "best 90 %": _intervals(rows, "best_volume", 0),
            "reason": rows["reason"],
        }
    )


def _chances(shares: pd.Series) -> pd.Series:
    """Return chances in whole %, never as certainties."""
    return (100 * shares).round().clip(1, 99)


def _intervals(
    rows: pd.DataFrame, name: str, digits: int, endings: tuple[str, str] = ("_low", "_high")
) -> list[str]:
    ends = zip(*(rows[f"{name}{end}"] for end in endings), strict=True)
    return ["" if pd.isna(low) else numbers.between(low, high, digits) for low, high in ends]


def set_aside(rows: pd.DataFrame) -> pd.DataFrame:
    """Return rows set aside: where, why, and what stood there."""
    columns = {"file": "file", "line": "line", "reason": "why", "column": "column"}
    as_written = ("athlete", "started_at", "measure", "effort", "value")
    columns |= {name: name.replace("_at", "") for name in as_written}
    named = rows[[name for name in columns if name in rows]].rename(columns=columns)
    return named.reset_index(drop=True)


def past_imports(rows: pd.DataFrame) -> pd.DataFrame:
    """Return imports from `db.imports.undo.imports_with_undo`, one line each."""
    columns = {
        "batch_id": "import",
        "file": "file",
        "imported_at": "imported",
        "person": "by",
        "rows_read": "rows read",
        "stored": "stored",
        "known": "known",
        "set_aside": "set aside",
        "taken_back_at": "taken back",
        "taken_back_by": "taken back by",
        "taken_back_because": "why",
    }
    return rows[list(columns)].rename(columns=columns)


def to_store(rows: pd.DataFrame) -> pd.DataFrame:
    """Return rows of `db.imports.storing.check_rows` that would be stored."""
    columns = ["athlete", "started_at", "measure", "kind", "effort", "value", "volume"]
    return rows[columns].rename(columns={"started_at": "started", "volume": "volume before"})


def people(accounts: list[Person], athletes: dict[str, str], seen: dict[str, str]) -> pd.DataFrame:
    """Return everybody with an account; names of athletes by code, whom each sees by person."""
    return pd.DataFrame(
        [
            {
                "name": each.display_name,
                "role": each.role,
                "athlete": athletes.get(each.athlete or "", each.athlete or ""),
                "sees": seen[each.person],
                "may sign in": "yes" if each.active else "no",
                "signs in as": each.person,
                "e-mail": each.email or "",
            }
            for each in accounts
        ]
    )
