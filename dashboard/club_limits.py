"""The most maximal efforts that a club allows before a start, and in a day."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf

from dashboard.numbers import volume
from db.errors import BadInput
from db.measures import Measure, get_measure, kind_of_effort, list_measures
from db.plans import PlanEntry, plans
from db.settings import get_setting, set_setting
from db.store import Store
from db.warm_ups import most_warm_ups
from modeling.length import Limits

MOST_OF = {"jump": 25.0, "sprint": 15.0, "throw": 40.0, "other": 25.0}
"""Maximal efforts before a start and in a day (common practice, no source); a sprint loads the
hamstrings most. Where minutes are counted there is no usual limit."""

HIGHEST_MOST = 200.0
MOST_KEY = "most_volume"
"""A setting; with `:CODE` behind it."""


def most_allowed(store: Store, measure: Measure) -> float:
    """Return the club's limit for a measure: as it was set, else the usual one of its kind."""
    kept = get_setting(store, f"{MOST_KEY}:{measure.code}")
    if kept is not None:
        return float(kept)
    in_minutes = measure.volume_unit.strip().lower().startswith("min")
    return inf if in_minutes else MOST_OF[kind_of_effort(measure)]


def set_most_allowed(store: Store, measure: Measure, most: float, person: str) -> None:
    """Set the club's limit for a measure.

    Raises
    ------
    BadInput
        If it is not a number that makes sense, or below the standard.
    """
    if not 1.0 <= most <= HIGHEST_MOST:
        raise BadInput(
            f"The most before a start is {most:g}; it must be 1 to {HIGHEST_MOST:g}. A higher one"
            " would protect nobody."
        )
    standard = measure.standard_volume
    if standard is not None and most < standard:
        raise BadInput(
            f"The most before a start is {most:g}, and the standard is {standard:g}. Set a lower"
            " standard first."
        )
    set_setting(store, f"{MOST_KEY}:{measure.code}", f"{most:g}", person)


def limits_by_athlete(
    store: Store, measure: Measure, standard_volume: float, athletes: Iterable[str]
) -> dict[str, Limits]:
    """Return what each athlete may do: the standard counts as done, as the team does it today."""
    done, most = most_warm_ups(store, measure.code), most_allowed(store, measure)
    return {code: Limits(max(done.get(code, 0.0), standard_volume), most) for code in athletes}


def check_choice(store: Store, plan: PlanEntry) -> None:
    """Refuse a length that nobody may set for an athlete, whatever the reason.

    Raises
    ------
    BadInput
        If it is beyond the club's limit and more than a quarter above what was done; or if, with
        the day's other measures of its kind, it is over what may be done in a day.
    """
    measure, standard = get_measure(store, plan.measure), plan.standard_volume or 0.0
    limits = limits_by_athlete(store, measure, standard, [plan.athlete])[plan.athlete]
    length, most = plan.chosen_volume, limits.most_by_hand
    unit = measure.volume_unit
    club = limits.most_allowed
    allowed = "" if club == inf else f" The club allows {volume(club, unit)}."
    if length > most:
        raise BadInput(
            f"{volume(length, unit)} is too much.{allowed} With a reason you can go up step by"
            f" step, a quarter over what was done at a time: now up to {volume(most, unit)}."
        )
    other = _others_that_day(store, measure, plan)
    if other and length + other > max(club, length):
        raise BadInput(
            f"{volume(other, unit)} are set for the same day with another measure, and a day has"
            f" {volume(club, unit)} at most. Set {volume(max(club - other, 0.0), unit)} or fewer."
        )


def _others_that_day(store: Store, measure: Measure, plan: PlanEntry) -> float:
    """Return what is set for the athlete's day with other measures of the same kind of effort."""
    kind, total = kind_of_effort(measure), 0.0
    for each in list_measures(store):
        if each.code != measure.code and kind_of_effort(each) == kind != "other":
            rows = plans(store, plan.day, each.code)
            total += float(rows.loc[rows["athlete"] == plan.athlete, "chosen_volume"].sum())
    return total
