"""What looks wrong in the data, in plain sentences and tables."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NotRequired, TypedDict, cast

import pandas as pd

from dashboard.core import dates
from dashboard.core.numbers import chance, counted, decimal, figures, listed, percent
from dashboard.screen import units
from db.roster.measures import Measure

Names = Mapping[str, str]

KINDS = {
    "unit": "other units",
    "swap": "exchanged athletes",
    "duplicate": "sessions twice",
    "device": "shifts of everybody",
    "jump": "jumps between sessions",
    "effort": "outlying efforts",
}
DECISIONS = {
    "accepted": "accepted as right",
    "excluded": "excluded",
    "corrected": "corrected",
    "exchanged": "exchanged",
}
FACTORS = {
    100.0: "centimetres where metres were meant",
    10.0: "a decimal point",
    3.6: "km/h where m/s was meant",
    3.28084: "feet where metres were meant",
    2.54: "centimetres where inches were meant",
    2.236936: "miles per hour where m/s was meant",
    1 / 100.0: "metres where centimetres were meant",
    1 / 10.0: "a decimal point",
    1 / 3.6: "m/s where km/h was meant",
    1 / 3.28084: "metres where feet were meant",
    1 / 2.54: "inches where centimetres were meant",
    1 / 2.236936: "m/s where miles per hour were meant",
}
LOOKED_FOR = (
    "efforts far from the athlete's curve, jumps between sessions, values in another unit,"
    " sessions of two athletes exchanged, sessions saved twice, and shifts of everybody at once"
)


def counts_sentence(findings: pd.DataFrame, efforts: int, sessions: int) -> str:
    """Return how many findings of each kind there are, in how many efforts."""
    within = f"{counted(efforts, 'effort')} of {counted(sessions, 'session')}"
    if findings.empty:
        return f"Nothing is left to decide in {within}. Looked for: {LOOKED_FOR}."
    kinds = findings["kind"].value_counts()
    named = [f"{name} ({kinds[kind]})" for kind, name in KINDS.items() if kind in kinds]
    return f"In {within}: {listed(named)}. The surest first."


class FindingRow(TypedDict):
    """A row of `db.fits.findings.open_findings` or, with a decision, `decided_findings`."""

    finding_id: int
    kind: str
    athlete: str
    other_athlete: str
    apart_pct: float
    noise_pct: float
    noise_count: float
    chance: float
    factor: float
    stays: bool
    decision: NotRequired[str]
    decision_id: NotRequired[int]


def finding_rows(findings: pd.DataFrame) -> list[FindingRow]:
    """Return the rows of a frame of findings."""
    return cast(list[FindingRow], findings.to_dict("records"))


def headline(row: FindingRow, efforts: pd.DataFrame, measure: Measure, names: Names) -> str:
    """Return what was found in one line."""
    first = efforts.iloc[0]
    who, day = names.get(row["athlete"], row["athlete"]), _day(first["started_at"])
    apart = f"{percent(abs(row['apart_pct']))} {'above' if row['apart_pct'] > 0 else 'below'}"
    if row["kind"] == "effort":
        scale = units.shown(measure.unit)
        value, expected = scale.of(first["value"]), scale.of(first["expected"])
        return (
            f"{who}, {day}: effort {first['effort']} is {figures(round(value, 3), 6)} {scale.unit},"
            f" {apart} the {figures(expected, 3)} expected"
        )
    if row["kind"] == "unit":
        when = day if efforts["session_id"].nunique() == 1 else "every session"
        times = figures(row["factor"], 3)
        return f"{who}, {when}: {_all(len(efforts))} {times} times what is expected"
    if row["kind"] == "jump":
        return f"{who}, {day}: the session lies {apart} the athlete's others"
    other = names.get(row["other_athlete"], row["other_athlete"])
    if row["kind"] == "swap":
        return f"{who} and {other}, {day}: the two sessions fit each other's athlete far better"
    if row["kind"] == "duplicate":
        first_start, last_start = efforts.drop_duplicates("session_id")["started_at"].iloc[[0, -1]]
        under: str = "" if pd.isna(row["other_athlete"]) else f" under {other}"
        return (
            f"{who}: the {counted(len(efforts) // 2, 'effort')} of {_moment(first_start)} stand"
            f" again{under} on {_moment(last_start)}"
        )
    after = ", and every session after" if row["stays"] else ", and on no other day"
    high = "high" if row["apart_pct"] > 0 else "low"
    return f"All athletes measured on {day} lie {percent(abs(row['apart_pct']))} {high}{after}"


def explanation(row: FindingRow) -> str:
    """Return what it was compared with, how sure it is, and what would explain it."""
    noise, count = percent(row["noise_pct"]), int(row["noise_count"])
    sessions = counted(count, "session")
    told = {
        "effort": f"The athlete's efforts vary by {noise} (from {counted(count, 'effort')}).",
        "unit": f"The athlete's sessions vary by {noise} (from {sessions}).",
        "jump": f"The athlete's sessions vary by {noise} (from {sessions}).",
        "swap": f"The first athlete's sessions vary by {noise} (from {sessions}).",
        "device": f"An athlete's sessions vary by {noise} (from {sessions} of all).",
    }.get(row["kind"], "")
    sure = f"The chance of anything like it in correct data of this size: {chance(row['chance'])}."
    return " ".join(part for part in (told, sure, _why(row)) if part)


def _why(row: FindingRow) -> str:
    factor = row["factor"]
    if row["kind"] == "swap":
        times = "more than a million" if factor > 1e6 else decimal(float(f"{factor:.2g}"), 0)
        return f"Exchanged, they are {times} times likelier: written down under the wrong names?"
    if pd.notna(factor):
        meant = min(FACTORS, key=lambda known: abs(known / factor - 1))
        return f"{FACTORS[meant].capitalize()}?"
    return {
        "jump": "Another device, another setting, an injury, or another athlete?",
        "duplicate": "Imported or typed in twice?",
        "device": "The device or its setting, the floor, or something that all went through? The"
        " day is the likeliest one; it may be the one before or after.",
    }.get(row["kind"], "")


def values_table(efforts: pd.DataFrame, measure: Measure, names: Names) -> pd.DataFrame:
    """Return a finding's efforts beside what was expected.

    Athlete and session are left out if they are the same for all efforts.
    """
    scale = units.shown(measure.unit)
    table = pd.DataFrame(
        {
            "athlete": efforts["athlete"].map(lambda code: names.get(code, code)),
            "session": efforts["started_at"],
            "effort": efforts["effort"],
            f"{measure.volume_unit} before": efforts["volume"],
            f"value, {scale.unit}": scale.of(efforts["value"]).round(3),
            "expected": scale.of(efforts["expected"]).round(2),
            "difference, %": (100 * (efforts["value"] / efforts["expected"] - 1)).round(1),
        }
    )
    same = [name for name in ("athlete", "session") if table[name].nunique() == 1]
    return table.drop(columns=same)


def decided_label(row: FindingRow, efforts: pd.DataFrame, measure: Measure, names: Names) -> str:
    """Return a decision in one line: what was done, about what, when."""
    about = (
        headline(row, efforts, measure, names) if len(efforts) else KINDS[row["kind"]].capitalize()
    )
    return f"{DECISIONS[row['decision']].capitalize()}: {about}"


def _day(moment: pd.Timestamp) -> str:
    return dates.day(moment, "long")


def _moment(moment: pd.Timestamp) -> str:
    return dates.moment(moment, "long")


def _all(count: int) -> str:
    return "the only effort is" if count == 1 else f"all {count} efforts are"
