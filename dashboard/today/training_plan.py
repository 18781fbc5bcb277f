"""The plan of a training day: what is advised, what the coach has set, and its files."""

from __future__ import annotations

from datetime import date

import pandas as pd

from dashboard.core import numbers
from dashboard.fits.kept_curves import kept_draws
from dashboard.fits.lengths import responses
from dashboard.fits.usual_terms import latest_fit
from dashboard.game.files import phone_page
from dashboard.game.prevention_words import PREVENTION
from dashboard.game.words import long_day
from dashboard.rules import goals
from dashboard.rules.club_limits import mosts_by_athlete
from dashboard.rules.match_days import squad_day_words
from dashboard.rules.protocol_words import BUILD_UP, effort_line
from dashboard.rules.standing import blocked_codes
from dashboard.rules.test_days import athlete_days
from db.errors import BadInput
from db.file.settings import get_setting
from db.file.store import Store
from db.fits.exports import csv_text
from db.plans.lengths import plans
from db.roster.athletes import list_athletes
from db.roster.measures import Measure, get_measure
from db.roster.protocols import protocol_of
from modeling.estimate import interval

TABLE = [
    *("day", "measure", "athlete", "name", "volume", "volume_unit"),
    *("advised_volume", "standard_volume", "set_by_hand", "goal", "efforts_to_follow"),
]


def plan_rows(store: Store, measure: str, day: date, efforts_to_follow: int) -> pd.DataFrame:
    """Return every active athlete with what is advised and what has been set for a day.

    Athletes who are out, or in pain that nobody has lifted, are left out.

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
        The columns of `dashboard.fits.lengths.responses`, with the length and what is lost at it
        for this many efforts; `chosen_volume` (missing if nothing has been set) and `reason`. An
        athlete newer than the fit has no numbers.
    """
    active = list_athletes(store, active_only=True)[["athlete", "name", "position"]]
    active = active[~active["athlete"].isin(blocked_codes(store))]
    known = responses(store, measure).drop(columns=["name", "position"])
    if efforts_to_follow > 1:
        known = known.set_index("athlete")
        known.update(_for_work(store, measure, efforts_to_follow))
        known = known.reset_index()
    rows = active.merge(known, on="athlete", how="left")
    kept = plans(store, day, measure, second_game=False)[["athlete", "chosen_volume", "reason"]]
    return rows.merge(kept, on="athlete", how="left").fillna({"call": "not known", "reason": ""})


def _for_work(store: Store, measure: str, efforts_to_follow: int) -> pd.DataFrame:
    """Return `length` and `lost_pct` with its interval by athlete, if all efforts count."""
    # The model takes a second to load, and the page needs it for nothing else.
    from modeling.day.goal_advice import ToFollow, advise

    work = ToFollow("sustained", efforts_to_follow)
    told = {code: advise(curve, work) for code, curve in kept_draws(store, measure).items()}
    return pd.DataFrame(
        {
            code: {"length": each.volume, **interval("lost_pct", each.lost_pct)}
            for code, each in told.items()
        }
    ).T


def plan_sheet(store: Store, day: date, measure: str) -> bytes:
    """Return the printed sheet of everything set for a day, as a PDF.

    Raises
    ------
    BadInput
        If nothing has been set for that day and measure, or there is no such measure.
    """
    from dashboard.today.training_sheet import SheetHeading, warm_up_sheet

    facts, kept = _saved(store, day, measure)
    people = list_athletes(store)[["athlete", "position"]]
    calls = responses(store, measure)[["athlete", "call"]]
    rows = kept.merge(people, on="athlete").merge(calls, on="athlete", how="left")
    return warm_up_sheet(
        rows.fillna({"call": "not known"}),
        SheetHeading(
            day=day,
            what=_what(store, facts),
            volume_unit=facts.volume_unit,
            goal=_goal(kept),
            evidence=_evidence(store, measure),
            team=get_setting(store, "club_name") or "",
            around=squad_day_words(day, athlete_days(store), rows["athlete"]),
        ),
    )


def plan_phone(store: Store, day: date, measure: str) -> bytes:
    """Return everything set for a day as one page for a phone; errors as for the sheet.

    Those who do most come first.
    """
    from dashboard.today.training_sheet import how

    facts, kept = _saved(store, day, measure)
    kept = kept.sort_values(["to_do", "name"], ascending=[False, True], kind="stable")
    people = []
    for row in kept.to_dict("records"):
        amount, unit = numbers.volume(row["to_do"], facts.volume_unit).split(" ", 1)
        why = how(row)
        told = numbers.capital(why)
        people.append({"name": row["name"], "volume": amount, "unit": unit, "how": told})
    title = f"Training, {long_day(day)}"
    part = {
        "title": title,
        "occasion": f"Warm up for {_goal(kept)}.",
        "people": people,
        "regions": f"{PREVENTION} {BUILD_UP}",
    }
    return phone_page(_what(store, facts), [part])


def plan_table(store: Store, day: date, measure: str) -> bytes:
    """Return everything set for a day as CSV, by name; errors as for the sheet.

    The columns are those of a game's table, without times. Lengths are in the volume unit.
    """
    facts, kept = _saved(store, day, measure)
    by_hand = kept["to_do"] != kept["advised_volume"]
    rows = kept.assign(
        volume=kept["to_do"],
        volume_unit=facts.volume_unit,
        set_by_hand=by_hand.map({True: "yes", False: "no"}),
    )
    return csv_text(rows[TABLE].assign(day=day)).encode()


def _saved(store: Store, day: date, measure: str) -> tuple[Measure, pd.DataFrame]:
    """Return the measure and what is saved for those who may warm up.

    `to_do` is their length; `filled_up` is true if the most allowed keeps them from doing more.

    Raises
    ------
    BadInput
        If nothing is saved.
    """
    facts = get_measure(store, measure)
    kept = plans(store, day, measure, second_game=False)
    kept = kept[~kept["athlete"].isin(blocked_codes(store))]
    if kept.empty:
        raise BadInput(
            f"No lengths are saved for {facts.name.lower()} on {day:%d %B %Y}. Save them on the"
            " page 'Today' first: its files hold what is saved."
        )
    most = mosts_by_athlete(store, facts, kept["athlete"], day)
    at_most = kept["chosen_volume"] >= kept["athlete"].map(lambda code: most[code].in_day)
    known = responses(store, measure).set_index("athlete")["limited_by"]
    cut = kept["athlete"].map(known) == "club"
    longer = kept["chosen_volume"] > kept["standard_volume"]
    return facts, kept.assign(to_do=kept["chosen_volume"], filled_up=at_most & (longer | cut))


def _what(store: Store, measure: Measure) -> str:
    """Return the measure, and what one effort of it is."""
    return f"{measure.name}: {effort_line(protocol_of(store, measure))}"


def _goal(kept: pd.DataFrame) -> str:
    return " or ".join(goals.goal(each) for each in sorted(set(kept["efforts_to_follow"])))


def _evidence(store: Store, measure: str) -> str:
    fit = latest_fit(store, measure)
    if fit is None:
        return ""
    return f"{numbers.counted(fit.sessions, 'session')}, {numbers.counted(fit.efforts, 'effort')}"
