"""An athlete's sessions and efforts, and the changes to them, as tables that people read."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from dashboard.core import dates
from dashboard.core.numbers import Row, counted, figures
from dashboard.rules.test_days import AthleteDays
from db.roster.measures import Measure

Measures = Mapping[str, Measure]


def session_label(row: Row, measures: Measures, days: AthleteDays) -> str:
    """Return a session in one line, from a row of `db.efforts.rows.sessions`."""
    at = row["started_at"]
    around = f" ({near})" if (near := days.around(at.date())) else ""
    unused = f", {int(row['excluded_efforts'])} not used" if row["excluded_efforts"] else ""
    return (
        f"{dates.moment(at)}{around}: {measures[row['measure']].name.lower()},"
        f" {row['kind']}, {counted(int(row['efforts']), 'effort')}{unused}"
    )


def session_efforts(rows: pd.DataFrame, measure: Measure) -> pd.DataFrame:
    """Return the efforts of a session from rows of `db.efforts.rows.efforts`."""
    return pd.DataFrame(
        {
            "effort": rows["effort"],
            f"value, {measure.unit}": rows["value"],
            f"{measure.volume_unit} before": rows["volume"],
            "not used because": rows["excluded"],
        }
    )


def changes(rows: pd.DataFrame, measures: Measures) -> pd.DataFrame:
    """Return changes of efforts, with what was there before and after, from `effort_trail` rows."""
    return pd.DataFrame(
        {
            "when": rows["changed_at"],
            "what": [change_in_words(row) for row in rows.to_dict("records")],
            "why": rows["reason"],
            "who": rows["person"],
            "measure": rows["measure"].map(lambda code: measures[code].name),
            "session": rows["started_at"],
            "effort": rows["effort"],
        }
    )


def change_in_words(row: Row) -> str:
    """Return what a change did to an effort: `40 to 41`, `not used`, `used again`."""
    parts = []
    if row["old_value"] != row["new_value"]:
        parts.append(f"{figures(row['old_value'], 6)} to {figures(row['new_value'], 6)}")
    if pd.notna(row["new_excluded"]):
        if row["new_excluded"] != row["old_excluded"]:
            parts.append(f"not used: {row['new_excluded']}")
    elif pd.notna(row["old_excluded"]):
        parts.append(f"used again (was left out: {row['old_excluded']})")
    return "; ".join(parts)


def lengths(rows: pd.DataFrame, measures: Measures, days: AthleteDays) -> pd.DataFrame:
    """Return the lengths set, in force or not, from `db.plans.lengths.choices` rows."""
    return pd.DataFrame(
        {
            "for the day": rows["day"],
            "set": rows["chosen_volume"],
            "before": rows["before"],
            "advised": rows["advised_volume"],
            "why": rows["reason"],
            "when": rows["saved_at"],
            "who": rows["person"],
            "game day": [days.around(day.date()) for day in rows["day"]],
            "game": [_which_game(row) for row in rows.to_dict("records")],
            "measure": rows["measure"].map(lambda code: measures[code].name),
            "in force": rows["in_force"].map({True: "yes", False: "no"}),
        }
    )


def length_label(row: Row, measures: Measures) -> str:
    """Return in one line a length that was set, from a row of `db.plans.lengths.choices`."""
    game = f", {which} game" if (which := _which_game(row)) else ""
    return (
        f"{dates.moment(row['saved_at'])}, length for {dates.day(row['day'])}{game},"
        f" {measures[row['measure']].name.lower()}: {figures(row['chosen_volume'])}"
    )


def _which_game(row: Row) -> str:
    """Return `second` for the second game of a day, which has a length of its own; else empty."""
    return "second" if row["second_game"] else ""


def outcomes(rows: pd.DataFrame, measures: Measures) -> pd.DataFrame:
    """Return what was recorded about the lengths, from `db.plans.outcomes.outcome_changes` rows."""
    return pd.DataFrame(
        {
            "for the day": rows["day"],
            "done": rows["new_done_volume"],
            "done, before": rows["old_done_volume"],
            "best after": rows["new_outcome"],
            "best after, before": rows["old_outcome"],
            "when": rows["changed_at"],
            "who": rows["person"],
            "measure": rows["measure"].map(lambda code: measures[code].name),
        }
    )


def imports(rows: pd.DataFrame, batches: pd.DataFrame, measures: Measures) -> pd.DataFrame:
    """Return the imports that brought efforts; `batches` has file, person and time by number."""
    told = rows.merge(batches[["batch_id", "file", "imported_at", "person"]], how="left")
    return pd.DataFrame(
        {
            "when": told["imported_at"],
            "who": told["person"],
            "file": told["file"],
            "measure": told["measure"].map(lambda code: measures[code].name),
            "efforts": told["efforts"],
            "first session": told["first_session"],
            "last session": told["last_session"],
        }
    )
