"""The plan of one day: what is advised, what the coach has set, and its printed sheet."""

from __future__ import annotations

from datetime import date

import pandas as pd

from dashboard import day_words, numbers
from dashboard.kept_curves import kept_draws
from dashboard.standing import blocked_codes
from dashboard.usual_terms import latest_fit, responses
from db.athletes import list_athletes
from db.errors import BadInput
from db.measures import get_measure
from db.plans import plans
from db.settings import get_setting
from db.store import Store


def plan_rows(store: Store, measure: str, day: date, efforts_to_follow: int) -> pd.DataFrame:
    """Return every active athlete with what is advised and what has been set for a day.

    Whoever is out, or in pain that nobody has lifted, is left out.

    Parameters
    ----------
    store
        The store.
    measure
        Code of a measure with a fit.
    day
        Day of the game or session.
    efforts_to_follow
        How many efforts the advice is for; 1 is one best effort.

    Returns
    -------
    pandas.DataFrame
        The columns of `dashboard.usual_terms.responses` with `advised_volume` for this many
        efforts, `chosen_volume` (missing where nothing has been set) and `reason`. An athlete
        newer than the fit has no numbers.
    """
    active = list_athletes(store, active_only=True)[["athlete", "name", "position"]]
    active = active[~active["athlete"].isin(blocked_codes(store))]
    known = responses(store, measure).drop(columns=["name", "position"])
    rows = active.merge(known, on="athlete", how="left")
    advised = rows["athlete"].map(_advice(store, measure, efforts_to_follow)).astype(float)
    # A fit that has kept no curves to advise from still says what one best effort wants.
    rows["advised_volume"] = (
        advised.fillna(rows["advised_volume"]) if efforts_to_follow == 1 else advised
    )
    kept = plans(store, day, measure)[["athlete", "chosen_volume", "reason"]]
    return rows.merge(kept, on="athlete", how="left").fillna({"call": "not known", "reason": ""})


def _advice(store: Store, measure: str, efforts_to_follow: int) -> dict[str, float]:
    """Return what is advised in the usual circumstances; nothing where no curves are kept."""
    # The model takes a second to load, and the page has no other use for it.
    from modeling.goal_advice import ToFollow, advise

    goal = ToFollow("best" if efforts_to_follow == 1 else "sustained", efforts_to_follow)
    curves = kept_draws(store, measure)
    return {code: advise(curve, goal).volume for code, curve in curves.items()}


def plan_sheet(store: Store, day: date, measure: str) -> bytes:
    """Return the printed sheet of everything that has been set for a day, as a PDF.

    Raises
    ------
    BadInput
        If nothing has been set for that day and measure, or there is no such measure.
    """
    from dashboard.sheet import SheetHeading, warm_up_sheet

    facts = get_measure(store, measure)
    kept = plans(store, day, measure)
    kept = kept[~kept["athlete"].isin(blocked_codes(store))]
    if kept.empty:
        raise BadInput(
            f"No lengths have been set for {facts.name.lower()} on {day:%d %B %Y}. Keep them on"
            " the page 'Before the session' first; the sheet prints what is kept."
        )
    people = list_athletes(store)[["athlete", "position"]]
    calls = responses(store, measure)[["athlete", "call"]]
    rows = kept.merge(people, on="athlete").merge(calls, on="athlete", how="left")
    return warm_up_sheet(
        rows.fillna({"call": "not known"}),
        SheetHeading(
            day=day,
            measure_name=facts.name,
            volume_unit=facts.volume_unit,
            goal=" or ".join(
                day_words.goal(each) for each in sorted(set(kept["efforts_to_follow"]))
            ),
            evidence=_evidence(store, measure),
            team=get_setting(store, "club_name") or "",
        ),
    )


def _evidence(store: Store, measure: str) -> str:
    fit = latest_fit(store, measure)
    if fit is None:
        return ""
    return f"{numbers.counted(fit.sessions, 'session')}, {numbers.counted(fit.efforts, 'effort')}"
