"""Sentences and rows about the warm-up account: its constants, and what is usual in a squad."""

from __future__ import annotations

import numpy as np
import pandas as pd

from dashboard.core.numbers import between, counted, decimal, number, percent
from dashboard.fits.usual_terms import UsualTerms
from dashboard.screen import units

HOW_TO_READ_ACCOUNT = (
    "learned: the squad's sessions tell more than was thought beforehand, with the 90\u00a0%"
    " interval · no effect: nothing in that interval makes a difference · default: the sessions"
    " tell less than was thought beforehand, so the customary value stands, with its range"
)
EFFECTS = {
    "cold": "ten degrees below 20",
    "early": "six hours before 16:00",
    "after a game": "the day of a game, fading within days",
    "readiness": "felt two points fresher than usual",
}
MEANINGS = {
    "general_per_minute": "a minute of general warm-up counts for",
    "half_life_minutes": "rest that halves the warmth of a warm-up",
    "stretch_per_degree": "more needed for each degree below 20",
    "stretch_per_hour": "more needed for each hour before 16:00",
}


def usual_sentence(terms: UsualTerms) -> str:
    """Return the circumstances that the volumes on a page stand for."""
    usual = terms.usual
    return (
        "Volumes are as usually done here: after"
        f" {number(usual.general_minutes)}\u00a0min of general warm-up,"
        f" {number(usual.rest_minutes)}\u00a0min before the first effort, at"
        f" {units.temperature(usual.ambient_c)}, around {clock(usual.hour)}."
    )


def clock(hour: float) -> str:
    """Return a time of day, to the minute."""
    hours, minutes = divmod(round(60 * hour), 60)
    return f"{hours % 24}:{minutes:02d}"


def account_table(constants: pd.DataFrame, unit: str, clubs: int) -> pd.DataFrame:
    """Return the constants of `db.fits.advice_bases.account_constants` as people read them.

    The clock of fatigue comes last: no fit learns it. `clubs` is how many other clubs the prior of
    a fit comes from; what they say then replaces the default.
    """
    from modeling.curve.two_clocks import RECOVERY

    others = f"{counted(clubs, 'other club')} where they tell; else " if clubs else ""
    known = constants.set_index("constant").loc[list(MEANINGS)]
    rows = [
        {
            "what": MEANINGS[str(name)],
            "value": _value(str(name), row["value"], unit),
            "interval or range": _ends(str(name), row["low"], row["high"]),
            "how it is known": row["status"],
            "source of the default": others + _source(str(name)),
        }
        for name, row in known.iterrows()
    ]
    rows.append(
        {
            "what": f"{RECOVERY.words}, in a longer wait than usual",
            "value": f"{RECOVERY.default:.0f}\u00a0min",
            "interval or range": f"{decimal(RECOVERY.low, 0)} to {decimal(RECOVERY.high, 0)}",
            "how it is known": "default",
            "source of the default": RECOVERY.source,
        }
    )
    return pd.DataFrame(rows)


def effects_table(effects: pd.DataFrame) -> pd.DataFrame:
    """Return what moves the level, from `db.fits.advice_bases.level_effects`, as people read it."""
    return pd.DataFrame(
        {
            "what": [EFFECTS.get(name, f"{name}, against training") for name in effects["effect"]],
            "performance": [percent(change) for change in effects["change_pct"]],
            "90 %": [
                between(low, high, 1)
                for low, high in zip(
                    effects["change_pct_low"], effects["change_pct_high"], strict=True
                )
            ],
        }
    )


def _source(name: str) -> str:
    from modeling.curve.account import CONSTANTS

    return next(constant.source for constant in CONSTANTS if constant.name == name)


def _value(name: str, value: float, unit: str) -> str:
    if name == "half_life_minutes":
        return "without end" if np.isnan(value) else f"{value:.0f}\u00a0min"
    if name == "general_per_minute":
        return f"{decimal(value, 2)} {unit}"
    return percent(100 * value)


def _ends(name: str, low: float, high: float) -> str:
    if name == "half_life_minutes":
        return f"{low:.0f} to {'no end' if np.isnan(high) else f'{high:.0f}'}"
    if name == "general_per_minute":
        return between(low, high, 2)
    return between(100 * low, 100 * high, 1)
