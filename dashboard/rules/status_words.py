"""How an athlete is, in plain words for staff."""

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
    """Return that sessions were measured in pain, from `db.roster.statuses.painful_sessions`."""
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
    """Return what staff are to look at in what an import has stored; empty where nothing is."""
    told = (
        painful_sentence(painful_sessions(store, batch_id=batch_id)),
        far_sentence(far_warm_ups(store, batch_id=batch_id)),
    )
    return " ".join(filter(None, told))


def far_sentence(rows: pd.DataFrame) -> str:
    """Return before whom far more was done than else, from `db.roster.warm_ups.far_warm_ups`."""
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
    """Return these sessions as people read them."""
    return rows[["started_at", "name", "kind", "efforts"]].rename(columns={"name": "athlete"})


def why_blocked(row: Row) -> str:
    """Return why somebody is neither tested nor advised, by `db.roster.statuses.standings`."""
    if row["status"] == "out":
        return f"out since {dates.day(row['since'])}"
    return f"pain on {dates.day(row['pain_day'])}"


def standing_sentence(row: Row) -> str:
    """Return how one athlete is, for staff."""
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
    """Return who is left out of today's lengths and why; nothing where nobody is."""
    told = [f"{row['name']} ({why_blocked(row)})" for row in rows.to_dict("records")]
    return f"Left out until staff lift it: {listed(told)}." if told else ""


def modified_sentences(rows: pd.DataFrame, names: Mapping[str, str]) -> list[str]:
    """Return how those are modified who are among some athletes."""
    here = rows[rows["athlete"].isin(list(names)) & (rows["status"] == "modified")]
    return [standing_sentence(row) for row in here.to_dict("records") if not row["blocked"]]


def history_table(rows: pd.DataFrame) -> pd.DataFrame:
    """Return what was said of an athlete as people read it."""
    return pd.DataFrame(
        {
            "since": rows["since"],
            "status": rows["status"].map(LABELS),
            "reason": rows["reason"],
            "said by": rows["person"],
        }
    )
