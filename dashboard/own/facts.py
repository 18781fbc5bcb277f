"""What the store says about an athlete, for their own page; `plain` puts it into words."""

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
    """What the newest fit says about an athlete who was measured.

    Attributes
    ----------
    fit : KeptFit
    row : CurveRow
        The athlete's response, with the length.
    terms : UsualTerms or None
        None if the fit saved none.
    curve, points : DataFrame
        From `dashboard.fits.usual_terms`: the curve, and the efforts beside it.
    a_week_apart : sequence of CurveRow
        From the newest fit that is at least a week older, if there is one, and from this one.
    lost : mapping of float to Estimate
        What is lost with each length of a coming game, in %; empty if no curves are saved.
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
    """Everything the page says about an athlete, except who looked and which links are open.

    Attributes
    ----------
    club, system : str
        Name of the club (may be empty), and the units it uses on screens.
    name : str
        Of the athlete.
    blocked : bool
        Whether the athlete may not be advised.
    games : sequence of KeptGame
        From today on, as they may be done now.
    coming : Coming
    measures : sequence of Measure
    tests : DataFrame
        The athlete's sessions of all measures, newest first.
    curves : mapping of str to CurveFacts
        By measure; a measure is missing if no efforts of the athlete were fitted.
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
    """Return what the store says about an athlete on a day.

    Parameters
    ----------
    own
        The store as the athlete may see it.
    athlete
        Code.
    today
        Games and lengths from this day on are included.
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
