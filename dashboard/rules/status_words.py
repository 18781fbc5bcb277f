"""An athlete's status, in plain words for staff."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from dashboard.core import dates
from dashboard.core.numbers import Row, counted, listed, number, volume
from db.file.store import Store
from db.roster.statuses import painful_sessions
from db.roster.warm_ups import far_warm_ups

LABELS = {"fit": "Fit", "modified": "Modified", "out": "Out"}
MEANINGS = (
    "Fit: everything. Modified: trains with limits, say which in a few words. Out: no test and no"
    " length until staff say otherwise. Only staff see this."
)
ASK_STAFF = (
    "There is no length for you at the moment. Talk to your coach or the medical staff before you"
    " do maximal efforts."
)
PAIN_STORED = (
    "Pain was answered yes. {name} gets no length and no test until staff set a status on the page"
    " 'Athlete'. See the medical staff and follow your local rules."
)
SHOWN = 5


def painful_sentence(rows: pd.DataFrame) -> str:
    """Return which sessions were measured in pain, from `db.roster.statuses.painful_sessions`."""
    if rows.empty:
        return ""
    who = listed(list(dict.fromkeys(rows["name"])))
    many = counted(len(rows), "session")
    return (
        f"Pain was answered yes in {many} with maximal efforts ({who}). Ask the medical staff."
        " There is no length and no test for them until staff set a status on the page 'Athlete';"
        " pain that is imported more than four weeks after its day is history and blocks nobody."
    )


def imported_warnings(store: Store, batch_id: int) -> str:
    """Return what staff should look at after an import; empty if there is nothing."""
    told = (
        painful_sentence(painful_sessions(store, batch_id=batch_id)),
        far_sentence(far_warm_ups(store, batch_id=batch_id)),
    )
    return " ".join(filter(None, told))


def far_sentence(rows: pd.DataFrame) -> str:
    """Return who did far longer warm-ups than usual, from `db.roster.warm_ups.far_warm_ups`."""
    if rows.empty:
        return ""
    told = [
        f"{row['name']} {volume(row['volume'], row['volume_unit'])} on"
        f" {dates.day(row['started_at'])}, otherwise {number(row['most'])} at most"
        for row in rows.head(SHOWN).to_dict("records")
    ]
    more = f"; and {len(rows) - SHOWN} more" if len(rows) > SHOWN else ""
    return (
        f"A warm-up is more than twice as long as any other: {'; '.join(told)}{more}. If that"
        " is mistyped, undo the import, correct the file and import it again, or exclude the"
        " efforts; or correct on Today what was done. The next lengths may go a quarter beyond it."
    )


def painful_table(rows: pd.DataFrame) -> pd.DataFrame:
    """Return sessions in pain as people read them."""
    return rows[["started_at", "name", "kind", "efforts"]].rename(columns={"name": "athlete"})


def why_blocked(row: Row) -> str:
    """Return why somebody is neither tested nor advised, from `db.roster.statuses.standings`."""
    if row["status"] == "out":
        return f"out since {dates.day(row['since'])}"
    return f"pain on {dates.day(row['pain_day'])}"


def standing_sentence(row: Row) -> str:
    """Return one athlete's status, for staff; empty if it needs no comment."""
    if row["blocked"]:
        reason = f" ({row['reason']})" if row["status"] == "out" and row["reason"] else ""
        return (
            f"{row['name']}: {why_blocked(row)}{reason}. No test and no length until staff set"
            " another status."
        )
    if row["status"] == "modified":
        return f"{row['name']} is modified since {dates.day(row['since'])}: {row['reason']}."
    return ""


def left_out_sentence(rows: pd.DataFrame) -> str:
    """Return who is left out of today's lengths and why; empty if nobody is."""
    told = [f"{row['name']} ({why_blocked(row)})" for row in rows.to_dict("records")]
    return f"Left out until staff lift it: {listed(told)}." if told else ""


def modified_sentences(rows: pd.DataFrame, names: Mapping[str, str]) -> list[str]:
    """Return a sentence for each of some athletes whose status is modified."""
    here = rows[rows["athlete"].isin(list(names)) & (rows["status"] == "modified")]
    return [standing_sentence(row) for row in here.to_dict("records") if not row["blocked"]]


def history_table(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the history of an athlete's status as people read it."""
    return pd.DataFrame(
        {
            "since": rows["since"],
            "status": rows["status"].map(LABELS),
            "reason": rows["reason"],
            "said by": rows["person"],
        }
    )
