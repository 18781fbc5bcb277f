"""Values that look mistyped, compared with what the athlete has shown before and on that day."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from math import log
from statistics import median
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import streamlit as st

from dashboard.core.numbers import measured, percent, volume
from dashboard.fits.usual_terms import curves, latest_fit, squad_curve, usual_terms
from db.efforts.effort_changes import is_allowed
from db.efforts.rows import efforts
from db.errors import BadInput
from db.file.store import Store
from db.fits.results import KeptFit
from db.roster.measures import Measure
from db.roster.protocols import rest_asked_for
from db.roster.warm_ups import BEYOND_THE_MOST, most_warm_ups

if TYPE_CHECKING:
    from modeling.day.next_value import Before, OwnCurve

LOWEST_PCT = -90.0
"""Where a curve that falls without end is cut off: nobody is measured there."""
ENDS = 1.6449
"""Standard deviations from the middle to either end of a 90 % interval."""


def before_session(
    store: Store, measure: Measure, athlete: str, session_id: int | None = None
) -> Before:
    """Return what is known about an athlete from all sessions but one and the newest curves."""
    from modeling.day.next_value import earlier_days

    curve = _own_curve(store, measure, athlete)
    rows = efforts(store, measure.code, athlete)
    rows = rows[rows["excluded"].isna() & (rows["session_id"] != (session_id or 0))]
    terms = usual_terms(store, measure.code)
    if terms is not None and len(rows):
        rows = rows.assign(volume=terms.as_done(rows, rest_asked_for(store, measure)))
    days = [
        (part["volume"].to_numpy(float), part["value"].to_numpy(float))
        for _, part in rows.groupby("session_id", sort=False)
    ]
    return earlier_days(days, curve)


def _own_curve(store: Store, measure: Measure, athlete: str) -> OwnCurve | None:
    """Return the athlete's curve, or the squad's if there is none; None before the first fit."""
    fit = latest_fit(store, measure.code)
    if fit is None:
        return None
    rows = curves(store, measure.code, athlete)
    if rows.empty:
        rows = squad_curve(store, measure.code)
    return None if rows.empty else _in_logarithms(rows, fit, measure.better == "higher")


def _in_logarithms(rows: pd.DataFrame, fit: KeptFit, higher_is_better: bool) -> OwnCurve:
    from modeling.day.next_value import OwnCurve

    change, low, high = (
        np.log1p(np.maximum(rows[name].to_numpy(float), LOWEST_PCT) / 100.0)
        for name in ("change_pct", "change_pct_low", "change_pct_high")
    )
    return OwnCurve(
        volume=rows["volume"].to_numpy(float),
        change=change if higher_is_better else -change,
        sd=(high - low) / (2.0 * ENDS),
        day_sd=fit.day_noise_pct / 100.0,
        effort_sd=fit.effort_noise_pct / 100.0,
    )


@dataclass(frozen=True)
class Doubt:
    """A value far from what the athlete has shown.

    Attributes
    ----------
    value, against : float
        The value, and the one it is far from.
    is_before : bool
        Whether `against` is the effort before it, not the value to be expected.
    """

    value: float
    against: float
    is_before: bool


def doubt(
    before: Before,
    measure: Measure,
    done: Sequence[tuple[float, float]],
    volume: float,
    shown: float,
) -> Doubt | None:
    """Return why a value should be asked about before it counts; None if it looks right.

    A value that is not allowed at all is not asked about: the store refuses it.

    Parameters
    ----------
    before
        What `before_session` returned.
    measure
        What is measured.
    done
        Volume and value of the day's usable efforts so far, in order.
    volume, shown
        Volume before this effort, and its value in the unit of the measure.
    """
    from modeling.day.next_value import expected

    likely, last = expected(before, done, volume), done[-1][1] if done else None
    if likely is None or not is_allowed(measure, shown) or not likely.is_far(shown, last):
        return None
    # If the value is close to the effort before, that one was far off too and tells nothing.
    if last is None or abs(log(shown / last)) < abs(log(shown / likely.middle)) / 2:
        return Doubt(shown, likely.middle, is_before=False)
    return Doubt(shown, last, is_before=True)


def session_doubts(
    before: Before, measure: Measure, efforts: Sequence[tuple[float, float]]
) -> list[str]:
    """Return what to ask about a session typed as a whole, given each effort's volume and value."""
    done: list[tuple[float, float]] = []
    told = []
    for place, effort in enumerate(efforts, start=1):
        doubted = doubt(before, measure, done, *effort)
        if doubted is None:
            done.append(effort)
        else:
            told.append(f"Effort {place}: {in_words(doubted, measure)}.")
    return told


def correction_doubts(
    before: Before, measure: Measure, session: pd.DataFrame, effort_id: int, right: float
) -> list[str]:
    """Return what to ask about a corrected value, given the other efforts of its session."""
    this = session["effort_id"] == effort_id
    others = session[~this & session["excluded"].isna()]
    done = list(zip(others["volume"], others["value"], strict=True))
    volume = float(session.loc[this, "volume"].iloc[0])
    doubted = doubt(before, measure, done, volume, right)
    return [f"{in_words(doubted, measure)}."] if doubted else []


def in_words(doubted: Doubt, measure: Measure, seconds: str = "") -> str:
    """Return a doubt as a statement: `93.6 cm is more than twice the 39.8 cm before`.

    `seconds` is what was typed if the value was worked out from a time.
    """
    ratio = doubted.value / doubted.against
    if ratio >= 3:
        how = f"{ratio:.0f} times"
    elif ratio >= 2:
        how = "more than twice"
    elif ratio <= 0.5:
        how = "less than half of"
    else:
        how = f"{percent(100 * abs(ratio - 1), 0)} {'above' if ratio > 1 else 'below'}"
    other = (
        f"the {measured(doubted.against, measure.unit)} before"
        if doubted.is_before
        else f"the {measured(doubted.against, measure.unit, 3)} to be expected"
    )
    shown = measured(doubted.value, measure.unit)
    return f"{seconds} s gives {shown}, {how} {other}" if seconds else f"{shown} is {how} {other}"


def volume_doubts(
    store: Store, measure: Measure, athletes: Iterable[str], typed: float, planned: float = 0.0
) -> list[str]:
    """Return what to ask about a typed warm-up of more than twice what was done or planned.

    It is compared with the most that these athletes have done, what is planned, and the standard.
    If nothing is known about these athletes, the median of the others' most takes their place.
    """
    done = most_warm_ups(store, measure.code)
    own = [done[athlete] for athlete in athletes if athlete in done]
    others = [median(done.values())] if done else []
    most = max([*(own or others), planned, measure.standard_volume or 0.0])
    if not most or typed <= BEYOND_THE_MOST * most:
        return []
    unit = measure.volume_unit
    return [f"{volume(typed, unit)} is more than twice the most so far, {volume(most, unit)}."]


class LookAgain(BadInput):
    """Something looks mistyped; the message says what, and how to save it anyway."""

    title = "Please look again"


def be_sure(key: str, what: Hashable, doubts: Sequence[str], button: str) -> None:
    """Let typed input pass if nothing in it is in doubt, or if it was sent again unchanged.

    Parameters
    ----------
    key
        Key under which the session remembers what was asked about.
    what
        All that was typed.
    doubts
        What looks wrong in it.
    button
        The button to press again.

    Raises
    ------
    LookAgain
        The first time that input in doubt is sent.
    """
    if not doubts or st.session_state.pop(key, None) == what:
        return
    st.session_state[key] = what
    raise LookAgain(
        f"{' '.join(doubts)} Nothing is saved yet. If it is right, press {button} again."
    )
