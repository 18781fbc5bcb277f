"""Plain sentences about the squad: no number without its interval or its count."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from dashboard.core import dates
from dashboard.core.numbers import (
    Row,
    between,
    counted,
    estimated_volume,
    number,
    percent,
    volume,
)
from dashboard.core.palette import CALLS
from dashboard.squad.changed import ChangedCalls
from dashboard.squad.worth_words import NOT_WEIGHED
from dashboard.week import curve_words
from db.fits.results import KeptFit


def squad_headline(rows: pd.DataFrame, standard: float) -> str:
    """Return the finding of the squad in one line."""
    calls = rows["call"].value_counts().reindex(CALLS).fillna(0).astype(int)
    athletes = len(rows)
    known, away = athletes - calls["not known"], calls["short"] + calls["long"]
    if not known:
        return f"Not known yet for any of {counted(athletes, 'athlete')}"
    if not away:
        everybody = "everybody" if known == athletes else f"all {known} of {athletes} we know of"
        return f"{number(standard)} suits {everybody}"
    ways = {"shorter": calls["short"], "longer": calls["long"]}
    told = ", ".join(f"{count} {way}" for way, count in ways.items() if count)
    verb, another = ("needs", "another length") if away == 1 else ("need", "another length")
    return f"{away} of {athletes} {verb} {another}: {told}"


def rest_sentence(rows: pd.DataFrame, fit: KeptFit, unit: str) -> str:
    """Return how many the standard suits, for how many it is not known, and from what data."""
    calls = rows["call"].value_counts()
    told = f"{volume(fit.standard_volume, unit)}: fine for {calls.get('either', 0)}"
    if unknown := calls.get("not known", 0):
        told += f"; for {unknown} it is not known yet"
    last = rows["last_session"].max()
    until = "" if pd.isna(last) else f" up to {dates.day(last)}"
    return (
        f"{told}. From {counted(fit.sessions, 'session')} and {counted(fit.efforts, 'effort')}"
        f"{until}."
    )


def own_lengths_sentence(rows: pd.DataFrame) -> str:
    """Return everybody who needs another length, with that length; empty if nobody does."""
    parts = [
        f"**{way}:** {_lengths(rows[rows['call'] == call])}"
        for call, way in (("short", "Shorter"), ("long", "Longer"))
        if (rows["call"] == call).any()
    ]
    return ". ".join(parts) + "." if parts else ""


def _lengths(rows: pd.DataFrame) -> str:
    ordered: Iterable[Row] = rows.sort_values("best_volume", kind="stable").to_dict("records")
    return ", ".join(
        f"{row['name']} {'none' if pd.isna(row['length']) else number(row['length'])}"
        for row in ordered
    )


def worth_answer(worth: pd.DataFrame, fit: KeptFit) -> tuple[str, str]:
    """Return whether own lengths are worth it against the standard, and how sure that is."""
    if worth.empty:
        return "Not known yet", NOT_WEIGHED
    row: Row = worth[worth["against"] == "standard"].to_dict("records")[0]
    enough, better = fit.worthwhile_pct, percent(row["worth_pct"])
    if row["worth_pct_low"] > enough:
        answer = f"Yes: {better} better"
    elif row["worth_pct_high"] <= enough:
        answer = f"No: only {better} better"
    else:
        answer = f"Not known yet: about {better}"
    return answer, (
        f"Own lengths against {number(fit.standard_volume)} for all, on average over"
        f" {counted(int(row['athletes']), 'athlete')}: 90\u00a0% sure it is"
        f" {between(row['worth_pct_low'], row['worth_pct_high'], 1)}\u00a0%. Worth having from"
        f" {percent(enough)}."
    )


def changed_answer(changed: ChangedCalls) -> tuple[str, str]:
    """Return how many calls changed within a week, and between which curves."""
    if changed.earlier is None or changed.newest is None:
        since = "" if changed.first is None else dates.day(changed.first.fitted_at.date())
        return "No comparison yet", f"The first curves are from {since}."
    answer = "Nobody's call" if changed.calls.empty else counted(len(changed.calls), "new call")
    return answer, curve_words.compared(changed.earlier, changed.newest)


def changed_call(row: Row) -> str:
    """Return whose call changed, and how: `A. Name: not known → short, best 7 (4 to 9)`."""
    best = estimated_volume(
        {f"best{part}": row[f"best_volume{part}_after"] for part in ("", "_low", "_high")}, "best"
    )
    return f"{row['name']}: {row['call_before']} \u2192 {row['call_after']}, best {best}"


def tests_answer(tests: pd.DataFrame, worth: pd.DataFrame, fit: KeptFit) -> tuple[str, str]:
    """Return how many tests would bring the smallest worthwhile change or more."""
    enough = percent(fit.worthwhile_pct)
    if tests.empty:
        return "Not known yet", "The newest curves do not say what to test next."
    if worth.empty:
        most = percent(tests["worth_pct"].max(), 2)
        return (
            "No test is worth doing",
            f"The best of {counted(len(tests), 'test')} is expected to bring {most}; worth doing"
            f" from {enough}.",
        )
    verb = "is" if len(worth) == 1 else "are"
    return (
        f"{counted(len(worth), 'test')} {verb} worth doing",
        f"Expected to bring {enough} or more by better advice.",
    )


def how_to_read_squad(fit: KeptFit) -> str:
    """Return the line under the squad picture's title: how to read the marks."""
    return (
        f"bar: good range, at most {percent(fit.worthwhile_pct)} lost \u00b7 line: where the best"
        " lies, 90\u00a0% sure \u00b7 mark: most likely best, hollow if not known yet"
    )


def reading_rule(fit: KeptFit) -> str:
    """Return the one rule for reading the picture."""
    standard = number(fit.standard_volume)
    return (
        f"Where the dashed line runs through the bar, {standard} is fine. No bar: no length is"
        " known to be good yet."
    )


def squad_in_words(responses: pd.DataFrame, standard: float, unit: str) -> str:
    """Return the text equivalent of the squad picture."""
    groups = (_group(responses, call) for call in CALLS)
    return f"Best warm-up volume in {unit}, standard {number(standard)}. " + " ".join(
        group for group in groups if group
    )


def _group(responses: pd.DataFrame, call: str) -> str:
    rows = responses[responses["call"] == call].to_dict("records")
    named = ", ".join(f"{row['name']} {estimated_volume(row)}" for row in rows)
    return f"{call.capitalize()}: {named}." if rows else ""
