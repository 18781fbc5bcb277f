"""What advice is worked out from: saved by a fit, and read back without fitting again."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from dashboard.core.numbers import Row
from dashboard.core.once import once
from dashboard.fits.usual_terms import latest_fit, responses, usual_terms
from dashboard.rules.club_limits import limits_by_athlete
from db.file.store import Store
from db.fits.advice_bases import (
    CIRCUMSTANCES,
    DRAW_COLUMNS,
    EFFECT_COLUMNS,
    AdviceBase,
    AdviceRows,
    curve_draws,
)
from db.roster.measures import get_measure
from db.roster.protocols import protocol_of
from modeling.estimate import interval

if TYPE_CHECKING:
    from modeling import CurveDraws, ResponseModel
    from modeling.curve.length import Needs


def advice_rows(model: ResponseModel, athletes: Iterable[object]) -> AdviceRows:
    """Return what a fit saves for advice on some athletes, as the store keeps it."""
    from modeling.answers.known_constants import known_constants, level_effects

    shared = model.fit_.learned.shared
    constants = pd.DataFrame(
        {
            "constant": known.constant.name,
            "status": known.status,
            # An infinite half-life is saved as a missing number.
            "value": known.value if np.isfinite(known.value) else np.nan,
            "low": known.low,
            "high": known.high if np.isfinite(known.high) else np.nan,
        }
        for known in known_constants(shared)
    )
    effects = pd.DataFrame(
        [
            {"effect": mark, **interval("change_pct", effect)}
            for mark, effect in level_effects(shared).items()
        ],
        columns=EFFECT_COLUMNS,
    )
    draws = pd.DataFrame(
        {
            "athlete": athlete,
            "draws": drawn.change.shape[1],
            "change": drawn.change.astype("<f4").tobytes(),
        }
        for athlete, drawn in ((athlete, model.draws(athlete)) for athlete in athletes)
    ).reindex(columns=DRAW_COLUMNS)
    usual = {name: getattr(model.usual_, name) for name in CIRCUMSTANCES}
    base = AdviceBase(model.standard_to_do_, **usual, volumes=model.volume_)
    return AdviceRows(base, constants, effects, draws)


@once
def kept_draws(store: Store, measure: str, athlete: str | None = None) -> dict[str, CurveDraws]:
    """Return what advice is worked out from, by athlete; empty if no fit has saved it.

    Athletes without data have the squad's distribution, and 0 sessions.
    """
    from modeling import CurveDraws

    terms, fit = usual_terms(store, measure), latest_fit(store, measure)
    if terms is None or fit is None:
        return {}
    knots, standard = terms.base.volumes, terms.base.standard_volume
    told = {row["athlete"]: row for row in responses(store, measure, athlete).to_dict("records")}
    facts = get_measure(store, measure)
    limits = limits_by_athlete(store, facts, standard, told)
    rest_seconds = protocol_of(store, facts).rest_seconds or 0.0
    return {
        row.athlete: CurveDraws(
            athlete=row.athlete,
            sessions=row.sessions,
            efforts=row.efforts,
            volume=knots,
            change=np.frombuffer(row.change, "<f4").astype(float).reshape(len(knots), -1),
            account=terms.account,
            usual=terms.usual,
            needs=needs_of(told[row.athlete], standard),
            worthwhile_pct=fit.worthwhile_pct,
            limits=limits[row.athlete],
            effort_rest_seconds=rest_seconds,
        )
        for row in curve_draws(store, measure, athlete)
    }


def needs_of(row: Row, standard_volume: float) -> Needs:
    """Return how much to do, from an athlete's row of `usual_terms.responses`."""
    from modeling.curve.length import Needs

    good: tuple[float, float] | None
    good = None if pd.isna(row["good_from"]) else (row["good_from"], row["good_to"])
    return Needs(standard_volume, row["call"], row["advised_volume"], good)
