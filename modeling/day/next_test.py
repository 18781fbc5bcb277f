"""What to test next: how much new sessions are expected to cut the loss from not knowing.

The athlete's posterior stands for what may be true. For each of many curves drawn from it new
sessions are simulated, the draws are reweighted by the likelihood of the outcome, and the best
volume under the new weights is looked up. The mean gain over today's advice is what the sessions
are worth (expected value of sample information; Raiffa & Schlaifer 1961).

One routine session rarely changes the advice by itself, but several together do: the value of
information is not concave. So routine sessions are judged as campaigns at two volumes, and one
session is worth its share of the best campaign (after Frazier & Powell 2010).

References
----------
Frazier & Powell (2010), Paradoxes in learning and the marginal value of information, Decision
Analysis 7, 378-403.
Raiffa & Schlaifer (1961), Applied Statistical Decision Theory, chapter 4.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import combinations_with_replacement

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from modeling.answers.response_model import ResponseModel
from modeling.curve.curve_draws import ADVICE_DRAWS
from modeling.efforts.session_model import SessionModel
from modeling.estimate import Estimate, drawn_quantiles, estimate, percent
from modeling.fit.athlete_grid import TailWeights
from modeling.fit.posterior import Posterior
from modeling.testing.fade import IN_A_ROW, SHARE
from modeling.testing.simulated_tests import (
    ANY,
    ROUTINE_EFFORTS,
    HowFar,
    Known,
    offered,
    routine_logs,
    weights,
    whole_fade,
)

__all__ = ["NextTest", "campaign_worths", "next_test", "next_tests"]

FloatArray = NDArray[np.float64]

MOST_SESSIONS = {"fade": 4, "routine": 12}
CAMPAIGN = 6
"""Routine sessions in a campaign, half of them at each of its two volumes."""

SHARES = (0.0, 0.25, 0.5, 1.0, 1.5, 2.0)
"""Volumes of routine sessions that are compared, as shares of the athlete's advised volume.

All are done after the usual general part: nobody is tested cold.
"""


@dataclass(frozen=True)
class NextTest:
    """One athlete's most telling next session of one kind.

    Attributes
    ----------
    athlete : object
    kind : {"fade", "routine"}
    volume : float
        Volume in effect before the session's first effort: that of the usual general part alone
        for a fade test.
    worth_pct : float
        Performance that the session is expected to bring through better advice.
    sessions_to_firm_call : int or None
        Such sessions until a call is firm with a chance of one half; 0 if it is firm already; None
        beyond `MOST_SESSIONS`.
    takes : Estimate
        Efforts that the session is expected to take; its stop rule ends a fade test.
    volume_to_do : float
        `volume` as it is done in the squad's usual circumstances; 0 for a fade test.

    Notes
    -----
    Units: volumes in the measure's volume unit; worth in % of performance, for each session.
    Missing values: `sessions_to_firm_call` is None if `MOST_SESSIONS` are not enough.
    Source: expected value of sample information, see the module.
    """

    athlete: object
    kind: str
    volume: float
    worth_pct: float
    sessions_to_firm_call: int | None
    takes: Estimate
    volume_to_do: float


def next_tests(
    model: ResponseModel,
    athletes: Iterable[object],
    stop_share: float = SHARE,
    mosts: Mapping[object, HowFar] | None = None,
    in_a_row: int = IN_A_ROW,
) -> list[NextTest]:
    """Give every athlete's most telling fade test and routine session, most worth first.

    Parameters
    ----------
    model : ResponseModel
    athletes : iterable of object
        Codes.
    stop_share, in_a_row : float, int
        The stop rule of a fade test (`modeling.testing.fade`).
    mosts : mapping of athlete to HowFar, optional
        How far tests may go; without limit for an athlete who is not in it.

    Returns
    -------
    list of NextTest
        Two for each athlete.

    Raises
    ------
    NotFittedError
        The model is not fitted.

    Notes
    -----
    Units: those of `NextTest`; `stop_share` is a share of the best effort, 0 to 1.
    Missing values: an athlete without data is tested as somebody of the squad.
    Source: Raiffa & Schlaifer (1961); Frazier & Powell (2010), see the module.
    """
    allowed = mosts or {}
    # The matrices are small: several threads would only wait for each other.
    with threadpool_limits(1):
        found = [
            test
            for athlete in athletes
            for test in _tests_of(model, athlete, stop_share, allowed.get(athlete, ANY), in_a_row)
        ]
    return sorted(found, key=lambda each: -each.worth_pct)


def next_test(
    model: ResponseModel,
    athlete: object,
    stop_share: float = SHARE,
    most: HowFar = ANY,
    in_a_row: int = IN_A_ROW,
) -> NextTest:
    """Give one athlete's most telling test, of either kind.

    Parameters
    ----------
    model : ResponseModel
    athlete : object
    stop_share, in_a_row : float, int
        The stop rule of a fade test (`modeling.testing.fade`).
    most : HowFar
        How far the test may go.

    Returns
    -------
    NextTest

    Raises
    ------
    NotFittedError
        The model is not fitted.

    Notes
    -----
    Units: those of `NextTest`; `stop_share` is a share of the best effort, 0 to 1.
    Missing values: an athlete without data is tested as somebody of the squad.
    Source: as for `next_tests`.
    """
    return next_tests(model, [athlete], stop_share, {athlete: most}, in_a_row)[0]


def _tests_of(
    model: ResponseModel, athlete: object, stop_share: float, mosts: HowFar, in_a_row: int
) -> list[NextTest]:
    known = replace(_known(model, athlete, stop_share, mosts), in_a_row=in_a_row)
    worths = campaign_worths(model, athlete, known)
    pair = max(worths, key=lambda each: worths[each])
    volume = max(pair, key=lambda each: float(np.var(known.expected(known.in_effect([each])))))
    firm = model.response(athlete).call != "not known"
    logs, made = whole_fade(known, np.random.default_rng(1))
    routine = float(ROUTINE_EFFORTS)
    found = (
        ("fade", 0.0, known.worth(logs), estimate(drawn_quantiles(made.astype(float)))),
        ("routine", volume, worths[pair], Estimate(routine, routine, routine)),
    )
    return [
        NextTest(
            athlete=athlete,
            kind=kind,
            volume=float(known.in_effect([before])[0]),
            worth_pct=worth,
            sessions_to_firm_call=0 if firm else _sessions_to_firm_call(model, known, kind, before),
            takes=takes,
            volume_to_do=before,
        )
        for kind, before, worth, takes in found
    ]


def _known(
    model: ResponseModel, athlete: object, stop_share: float = SHARE, mosts: HowFar = ANY
) -> Known:
    posterior, noise = model.posterior(athlete), model.fit_.learned.noise
    curve = model.draws(athlete)
    level, level_variance = _level(model, posterior)
    return Known(
        curve=curve,
        level=level,
        level_variance=level_variance,
        effort_sd=noise.effort,
        session_variance=noise.day**2 + noise.drift**2 + noise.session_curve**2,
        offered=offered(curve),
        stop_share=stop_share,
        mosts=mosts,
    )


def _level(model: ResponseModel, posterior: Posterior) -> tuple[FloatArray, float]:
    """Mean of the athlete's level under each draw, and its variance given the draw."""
    learned, rows = model.fit_.learned, posterior.rows
    variance = learned.level_sd**2
    if rows is None:
        return np.zeros(ADVICE_DRAWS), variance
    even = TailWeights.even(rows)
    # Deviations are already in the drawn curves.
    noise = replace(learned.noise, curve=0.0)
    spots = model.fit_.spots(rows)
    session = SessionModel.of(spots, noise, learned.level_sd, even.effort, even.day)
    drawn = model.sample_curves(rows.athlete, rows.volume, ADVICE_DRAWS)
    residual = learned.centred(rows)[:, None] - drawn
    pull = session.precise_one @ residual
    certain = float(session.precise_one.sum())
    return variance * pull, max(variance - variance**2 * certain, 0.0)


def campaign_worths(
    model: ResponseModel, athlete: object, known: Known | None = None
) -> dict[tuple[float, float], float]:
    """Work out what routine sessions at two volumes are worth, each its share of a campaign.

    Returns
    -------
    dict of (volume, volume) to float
        Expected gain in performance through better advice, in % a session; volumes as done.
    """
    known = known or _known(model, athlete)
    curve, in_effect = known.curve, np.array([model.response(athlete).advised_volume])
    advised = max(float(curve.account.volume_to_do(in_effect, curve.usual)[0]), 2.0)
    most = max(known.mosts.before_routine, 0.0)
    volumes = sorted({float(min(np.round(share * advised), most)) for share in SHARES})
    return {
        pair: known.worth(routine_logs(known, pair, CAMPAIGN // 2)) / CAMPAIGN
        for pair in combinations_with_replacement(volumes, 2)
    }


def _sessions_to_firm_call(
    model: ResponseModel, known: Known, kind: str, volume: float
) -> int | None:
    """Repeat the session until a call is firm under half of the truths."""
    standard = np.array([model.standard_volume_])
    matters = -percent(known.curve.at(standard)[0]) > model.worthwhile_pct
    short = matters & (known.curve.peaks() < standard)
    groups = np.stack([short, matters & ~short, ~matters], axis=1).astype(float)
    rng = np.random.default_rng(2)
    logs = np.zeros((len(known.truths), len(known.level)))
    for sessions in range(1, MOST_SESSIONS[kind] + 1):
        if kind == "fade":
            logs += whole_fade(known, rng)[0]
        else:
            logs = routine_logs(known, [volume], sessions)
        firm = (weights(logs) @ groups).max(axis=1) >= model.firm_chance
        if firm.mean() >= 0.5:
            return sessions
    return None
