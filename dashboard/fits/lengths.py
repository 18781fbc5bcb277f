"""How much everybody does: responses with the length, which one rule sets for all pages."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from dashboard.fits import usual_terms
from dashboard.fits.kept_curves import kept_draws, needs_of
from dashboard.rules.club_limits import limits_by_athlete
from dashboard.rules.standing import blocked_codes
from db.file.store import Store
from db.plans.weeks import fits_a_week_apart
from db.roster.measures import get_measure
from modeling.estimate import interval

LENGTH_COLUMNS = "length wanted_volume limited_by most_allowed".split()
LOST_COLUMNS = "lost_pct lost_pct_low lost_pct_high".split()


def responses(store: Store, measure: str, athlete: str | None = None) -> pd.DataFrame:
    """Return the responses of the newest fit in usual terms, each with the athlete's length.

    The columns are those of `dashboard.fits.usual_terms.responses`, and `length` on a usual day,
    `wanted_volume` (what it would be without limits), `limited_by` (club, most done or None),
    `most_allowed` (by the club), and `lost_pct` with `_low` and `_high`: what the length loses
    against the athlete's own best, in % (missing if a fit saved no curves to read it from). An
    athlete who is out, or has pain that nobody has lifted, keeps the curve but has no length.
    """
    rows = usual_terms.responses(store, measure, athlete)
    fit = usual_terms.latest_fit(store, measure)
    if fit is None:
        return rows.reindex(columns=[*rows, *LENGTH_COLUMNS, *LOST_COLUMNS])
    known = with_lengths(store, measure, rows, fit.standard_volume)
    curves = kept_draws(store, measure, athlete)
    lost = [
        interval("lost_pct", curves[row["athlete"]].lost_pct(row["length"]))
        if row["athlete"] in curves
        else {}
        for row in known.to_dict("records")
    ]
    told = known.join(pd.DataFrame(lost, index=rows.index, columns=LOST_COLUMNS, dtype=float))
    blocked = told["athlete"].isin(blocked_codes(store))
    told.loc[blocked, ["length", "wanted_volume", *LOST_COLUMNS]] = np.nan
    told.loc[blocked, "limited_by"] = None
    return told


def response_history(
    store: Store, measure: str, athlete: str, fits: Sequence[int] | None = None
) -> pd.DataFrame:
    """Return an athlete's responses in all fits, or in some, with today's length from each."""
    rows = usual_terms.response_history(store, measure, athlete, fits)
    parts, newest = [], usual_terms.latest_fit(store, measure)
    for fit_id, part in rows.groupby("fit_id", sort=False):
        terms = usual_terms.terms_of(store, measure, int(str(fit_id)))
        base = newest if terms is None else terms.base
        if base is not None:
            parts.append(with_lengths(store, measure, part, base.standard_volume))
    return pd.concat(parts) if parts else rows


def a_week_apart(store: Store, measure: str, athlete: str) -> pd.DataFrame:
    """Return `response_history` for the newest fit and the newest at least a week older."""
    return response_history(store, measure, athlete, fits_a_week_apart(store, measure))


def with_lengths(
    store: Store, measure: str, rows: pd.DataFrame, standard_volume: float
) -> pd.DataFrame:
    """Return responses in usual terms with the lengths that follow from them."""
    from modeling.curve.length import length

    limits = limits_by_athlete(store, get_measure(store, measure), standard_volume, rows["athlete"])
    found = [
        length(needs_of(row, standard_volume), limits[row["athlete"]])
        for row in rows.to_dict("records")
    ]
    allowed = [limits[code].most_allowed for code in rows["athlete"]]
    return rows.assign(
        length=np.array([each.volume for each in found]),
        wanted_volume=np.array([each.wanted for each in found]),
        limited_by=pd.Series([each.limited_by for each in found], rows.index, dtype=object),
        most_allowed=np.array(allowed, dtype=float),
    )


def lost_at(
    store: Store, measure: str, volumes: Sequence[tuple[str, float]], efforts_to_follow: int
) -> dict[str, tuple[float, float, float]]:
    """Return what athletes lose on a usual day at the volumes given, for the efforts to follow.

    By athlete code, in %: the median and the ends of its 90 % interval. Athletes without a curve
    are left out.
    """
    from modeling.day.goal_advice import ToFollow, losses

    curves, work = kept_draws(store, measure), ToFollow("sustained", efforts_to_follow)
    found = {}
    for code, volume in volumes:
        if curve := curves.get(code):
            counted = curve.in_effect(np.array([volume]), curve.usual)
            [each] = losses(curve, counted, work, curve.usual)
            found[code] = (each.median, each.low, each.high)
    return found
