"""What the store says of an athlete for their own page: read at once, worded by `plain`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import pandas as pd

from dashboard.fits.curve_rows import CurveRow, curve_rows
from dashboard.fits.kept_curves import kept_draws
from dashboard.fits.lengths import a_week_apart, responses
from dashboard.fits.usual_terms import UsualTerms, curves, latest_fit, placed_efforts, usual_terms
from dashboard.own.coming import Coming, coming
from dashboard.rules.club_limits import may_be_done
from dashboard.rules.standing import blocked_codes
from dashboard.screen import units
from db.efforts.rows import sessions
from db.file.settings import get_setting
from db.file.store import Store
from db.fits.results import KeptFit
from db.plans.kept_games import KeptGame
from db.roster.athletes import list_athletes
from db.roster.measures import Measure, list_measures
from modeling.estimate import Estimate


@dataclass(frozen=True)
class CurveFacts:
    """What the newest fit says of an athlete who was measured.

    Attributes
    ----------
    fit : KeptFit
    row : CurveRow
        With the length.
    terms : UsualTerms or None
        None where the fit has kept none.
    curve, points : DataFrame
        Of `dashboard.fits.usual_terms`: the curve, and the efforts beside it.
    a_week_apart : sequence of CurveRow
        By the newest fit a week before this one, if there is any, and by this one.
    lost : mapping of float to Estimate
        What each length of a game to come loses, in %; empty where no curves are kept.
    """

    fit: KeptFit
    row: CurveRow
    terms: UsualTerms | None
    curve: pd.DataFrame
    points: pd.DataFrame
    a_week_apart: Sequence[CurveRow]
    lost: Mapping[float, Estimate]


@dataclass(frozen=True)
class OwnFacts:
    """All that the page says of an athlete, but for who looked and which links are open.

    Attributes
    ----------
    club, system : str
        Name of the club (may be empty), and the units that it reads.
    name : str
        Of the athlete.
    blocked : bool
        Whether the athlete may not be advised.
    games : sequence of KeptGame
        From the day on, as they may be done.
    coming : Coming
    measures : sequence of Measure
    tests : DataFrame
        The athlete's sessions of all measures, newest first.
    curves : mapping of str to CurveFacts
        By measure; none where nothing of the athlete was fitted.
    """

    club: str
    system: str
    name: str
    blocked: bool
    games: Sequence[KeptGame]
    coming: Coming
    measures: Sequence[Measure]
    tests: pd.DataFrame
    curves: Mapping[str, CurveFacts]


def own_facts(own: Store, athlete: str, today: date) -> OwnFacts:
    """Return what the store says of an athlete for a day.

    Parameters
    ----------
    own
        The store as it looks to the athlete.
    athlete
        Code.
    today
        Games and lengths from then on are told.
    """
    names = list_athletes(own).set_index("athlete")["name"]
    known, measures = coming(own, athlete, today), list_measures(own)
    games = may_be_done(own, known.games)
    lengths = _planned_lengths(games, athlete)
    found = {each.code: _curve(own, each, athlete, lengths) for each in measures}
    return OwnFacts(
        club=get_setting(own, "club_name") or "",
        system=units.kept_system(own),
        name=str(names.get(athlete, athlete)),
        blocked=athlete in blocked_codes(own),
        games=games,
        coming=known,
        measures=measures,
        tests=sessions(own, athlete),
        curves={code: facts for code, facts in found.items() if facts is not None},
    )


def _planned_lengths(games: Sequence[KeptGame], athlete: str) -> dict[str, set[float]]:
    """Return the lengths of an athlete's games by measure."""
    lengths: dict[str, set[float]] = {}
    for kept in games:
        for player in kept.game.players:
            if player.plan.athlete == athlete:
                lengths.setdefault(kept.game.measure, set()).add(player.plan.chosen_volume)
    return lengths


def _curve(
    own: Store, measure: Measure, athlete: str, lengths: Mapping[str, set[float]]
) -> CurveFacts | None:
    code = measure.code
    fit = latest_fit(own, code)
    rows = curve_rows(responses(own, code, athlete)) if fit else []
    if fit is None or not rows or not rows[0]["sessions"]:
        return None
    drawn = kept_draws(own, code, athlete).get(athlete)
    planned = lengths.get(code, set()) if drawn else set()
    return CurveFacts(
        fit=fit,
        row=rows[0],
        terms=usual_terms(own, code),
        curve=curves(own, code, athlete),
        points=placed_efforts(own, measure, athlete),
        a_week_apart=curve_rows(a_week_apart(own, code, athlete)),
        lost={length: drawn.lost_pct(length) for length in planned} if drawn else {},
    )
