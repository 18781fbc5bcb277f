"""What a season of tests will tell about a squad, simulated before anybody is tested.

Each simulated squad is tested as planned and fitted, and the fit is compared with the truth. The
model contains none of the true shapes. Squads are drawn as real ones may be: athletes have
different shapes, and their best volumes move from session to session. Or they are tidy: each squad
has one shape in turn, and one of the shapes has no effect. Best volumes are log-normal across
athletes. Both kinds are drawn as in the benchmarks of the model.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from modeling.answers.response_model import ResponseModel
from modeling.estimate import BAND
from modeling.testing.rough_squads import RoughSquad, rough_squad
from modeling.testing.simulation import SHAPES, Noise, Protocol, simulate_squad, simulated_truths
from modeling.testing.true_curves import Spread, Truth

__all__ = ["MOVING_LOG_SD", "Foreseen", "SeasonOutlook", "SeasonPlan", "drawn", "season_outlook"]

FloatArray = NDArray[np.float64]
Statistic = Callable[[FloatArray], float]

MOVING_LOG_SD = 0.25
"""How far best volumes of rough squads move from session to session (log)."""


@dataclass(frozen=True)
class SeasonPlan:
    """What is planned, and what is assumed.

    Attributes
    ----------
    athletes : int
    protocol : Protocol
        Each athlete's tests and sessions, and the standard volume.
    noise : Noise
    worthwhile_pct : float
        Smallest worthwhile change in %.
    spread : Spread
        What the athletes are like.
    tidy : bool
        Whether all athletes of a squad have one shape and best volumes do not move.
    """

    athletes: int = 15
    protocol: Protocol = field(default_factory=lambda: Protocol(fade_tests=1, routine_sessions=4))
    noise: Noise = field(default_factory=Noise)
    worthwhile_pct: float = 1.0
    spread: Spread = field(default_factory=Spread)
    tidy: bool = False


@dataclass(frozen=True)
class Foreseen:
    """One thing to expect, over all simulated squads.

    Attributes
    ----------
    value : float or None
        Over all it counts; None if there is nothing to count.
    low, high : float or None
        Ends of the range that holds nine of ten squads.
    count : int
        Athletes or calls behind it.
    """

    value: float | None
    low: float | None
    high: float | None
    count: int

    @classmethod
    def of(cls, squads: Sequence[FloatArray], statistic: Statistic) -> Foreseen:
        """Take a statistic of everybody, and its range over the squads that have anybody."""
        some = [squad for squad in squads if len(squad)]
        if not some:
            return cls(None, None, None, 0)
        everybody = np.concatenate(some)
        low, high = np.quantile([statistic(squad) for squad in some], BAND)
        return cls(float(statistic(everybody)), float(low), float(high), len(everybody))


@dataclass(frozen=True)
class SeasonOutlook:
    """What will be known after a season as planned.

    Attributes
    ----------
    squads : int
        Simulated squads.
    firm_pct : Foreseen
        Athletes with a firm call, in %.
    right_pct : Foreseen
        Firm calls that are right, in %.
    standard_pct : Foreseen
        Mean performance lost at the standard against the true peak, in %.
    length_pct : Foreseen
        The same at the length that athletes would do: the standard unless the call is short or
        long, else the advised volume.
    lost_pct : Foreseen
        The same at the advised volume.
    width : Foreseen
        Median width of the 90 % intervals of best volumes, for athletes on whom volume has an
        effect, in the unit of volume.
    """

    squads: int
    firm_pct: Foreseen
    right_pct: Foreseen
    standard_pct: Foreseen
    length_pct: Foreseen
    lost_pct: Foreseen
    width: Foreseen


@dataclass(frozen=True)
class _Squad:
    """Results of one squad: an entry for each athlete that counts."""

    firm: FloatArray
    right: FloatArray
    standard: FloatArray
    length: FloatArray
    lost: FloatArray
    width: FloatArray


def season_outlook(
    plan: SeasonPlan,
    squads: int = 20,
    seed: int = 1,
    progress: Callable[[float], None] | None = None,
) -> SeasonOutlook:
    """Simulate squads that are tested as planned, and say what their fits know.

    Parameters
    ----------
    plan : SeasonPlan
    squads : int
        How many; from five on, tidy ones include every true shape.
    seed : int
        The same seed gives the same answer.
    progress : callable, optional
        Called with the share done, 0 to 1.

    Returns
    -------
    SeasonOutlook

    Raises
    ------
    ModelError
        The plan leaves nothing to fit.
    """
    found = []
    for number in range(squads):
        found.append(_squad(plan, number, np.random.default_rng([seed, number])))
        if progress:
            progress((number + 1) / squads)
    return SeasonOutlook(
        squads=squads,
        firm_pct=Foreseen.of([100.0 * squad.firm for squad in found], np.mean),
        right_pct=Foreseen.of([100.0 * squad.right for squad in found], np.mean),
        standard_pct=Foreseen.of([squad.standard for squad in found], np.mean),
        length_pct=Foreseen.of([squad.length for squad in found], np.mean),
        lost_pct=Foreseen.of([squad.lost for squad in found], np.mean),
        width=Foreseen.of([squad.width for squad in found], np.median),
    )


def _squad(plan: SeasonPlan, number: int, rng: np.random.Generator) -> _Squad:
    """Draw one squad, test it as planned, fit it, and compare the results with the truth."""
    standard = plan.protocol.standard
    truths, efforts = drawn(plan, number, rng)
    model = ResponseModel(standard_volume=standard, worthwhile_pct=plan.worthwhile_pct)
    model.fit(efforts, efforts["value"])
    codes = efforts["athlete"].unique()
    said = [(athlete, model.response(code)) for athlete, code in zip(truths, codes, strict=True)]
    firm = [(athlete, each) for athlete, each in said if each.call != "not known"]
    rights = [each.call == a.right_call(standard, plan.worthwhile_pct) for a, each in firm]
    best = [each.best_volume for athlete, each in said if athlete.gain > 0]
    lengths = [
        each.advised_volume if each.call in ("short", "long") else standard for _, each in said
    ]
    return _Squad(
        firm=np.array([float(each.call != "not known") for _, each in said]),
        right=np.array(rights, dtype=float),
        standard=np.array([athlete.loss_pct(standard) for athlete in truths]),
        length=np.array([a.loss_pct(length) for a, length in zip(truths, lengths, strict=True)]),
        lost=np.array([athlete.loss_pct(each.advised_volume) for athlete, each in said]),
        width=np.array([each.high - each.low for each in best]),
    )


def drawn(
    plan: SeasonPlan, number: int, rng: np.random.Generator
) -> tuple[list[Truth], pd.DataFrame]:
    """Draw the true curves of one squad, in the order of codes, and its efforts as planned."""
    if plan.tidy:
        shape = list(SHAPES)[number % len(SHAPES)]
        truths = simulated_truths(shape, plan.athletes, rng, **plan.spread.settings)
        return truths, simulate_squad(truths, plan.protocol, plan.noise, rng)
    squad = RoughSquad(
        athletes=plan.athletes,
        spread=plan.spread,
        protocol=plan.protocol,
        effort=plan.noise.effort,
        day=plan.noise.day,
        best_log_sd=MOVING_LOG_SD,
    )
    return rough_squad(squad, rng)
