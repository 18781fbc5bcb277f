"""Plain sentences on whether own lengths are worth the trouble."""

from __future__ import annotations

from math import exp

import pandas as pd

from dashboard.core.numbers import (
    Row,
    between,
    chance,
    counted,
    decimal,
    estimated_percent,
    percent,
    volume,
    with_interval,
)
from db.fits.results import KeptFit

MOST_TIMES = 1000.0
NOT_WEIGHED = (
    "These curves were worked out by an earlier version, which did not weigh this yet. It stands"
    " here once they are worked out again."
)


def worth_headline(worth: pd.DataFrame, fit: KeptFit, unit: str) -> str:
    """Return the answer in one line: own lengths, one other length, or the standard.

    Parameters
    ----------
    worth
        Rows of `db.fits.squad_worth.WORTH_COLUMNS` against the best single volume and the standard.
    fit
        Has the smallest change worth having, which decides.
    unit
        Volume unit in words.
    """
    single, standard = _row(worth, "best single"), _row(worth, "standard")
    enough = fit.worthwhile_pct
    if single["worth_pct_low"] > enough:
        return "Yes: no single length would do as well as own ones"
    if single["worth_pct_high"] > enough:
        return "Not known yet: own lengths may or may not beat the best single one"
    if standard["worth_pct_high"] <= enough:
        return "No: one length is fine, and the standard is good enough"
    best = volume(round(single["volume"]), unit)
    if standard["worth_pct_low"] > enough:
        return f"No: one length is fine, but {best} would be better than the standard"
    return f"No: one length is fine; whether {best} would beat the standard is not known yet"


def worth_sentences(worth: pd.DataFrame, fit: KeptFit, unit: str) -> list[str]:
    """Return what own lengths bring against each single length, and to how many."""
    enough = percent(fit.worthwhile_pct)
    told = []
    for row in worth.to_dict("records"):
        athletes = int(row["athletes"])
        told.append(
            f"Against {length(row, unit)} for everybody: {estimated_percent(row, 'worth_pct')} more"
            f" on average over {counted(athletes, 'athlete')}."
            f" {_count(row)} of {athletes} gain more than {enough}, the smallest change worth"
            " having."
        )
    return told


def length(row: Row, unit: str) -> str:
    """Return the single length that a row compares with: `the standard (15 efforts)`."""
    which = "the standard" if row["against"] == "standard" else "the best single length"
    # The team may set any standard. A best length is an estimate, so it is rounded to a whole one.
    digits = 1 if row["against"] == "standard" else 0
    return f"{which} ({volume(round(row['volume'], digits), unit)})"


def differ_sentence(fit: KeptFit) -> str:
    """Return the evidence that athletes peak at different volumes at all."""
    differ = fit.chance_athletes_differ
    times = differ / max(1.0 - differ, 1.0 / MOST_TIMES / 10.0)
    return (
        f"Chance that athletes really peak at different volumes: {chance(differ)}. What was"
        f" measured is {_times(times)} if they do than if all best volumes were equal, over"
        f" {counted(fit.athletes, 'athlete')} and {counted(fit.sessions, 'session')}."
    )


def spread_sentence(fit: KeptFit) -> str:
    """Return how far apart best volumes are, as the range of the middle two thirds."""
    spread, low, high = fit.spread_log_sd, fit.spread_log_sd_low, fit.spread_log_sd_high
    factor = with_interval(exp(spread), exp(low), exp(high), digits=1)
    return (
        "If they differ, two thirds of athletes peak within a factor of"
        f" {factor} of the squad's middle."
    )


def _times(times: float) -> str:
    if times > MOST_TIMES:
        return f"over {decimal(MOST_TIMES, 0)} times as likely"
    if times >= 1.0:
        return f"{decimal(times, 0 if times >= 10 else 1)} times as likely"
    return f"{decimal(1.0 / times, 0 if times <= 0.1 else 1)} times less likely"


def _count(row: Row) -> str:
    return f"{row['gaining']:.0f} ({between(row['gaining_low'], row['gaining_high'])})"


def _row(worth: pd.DataFrame, against: str) -> Row:
    rows: list[Row] = list(worth[worth["against"] == against].to_dict("records"))
    return rows[0]
