"""What a simulated season assumes: noise, standard and spread, either usual or our own."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from db.efforts.rows import data_summary
from db.file.store import Store
from db.fits.results import latest_fit, responses
from db.roster.measures import get_measure
from modeling.testing.true_curves import Spread

LEAST_BEST, LEAST_LOG_SD, LEAST_GAIN = 1.0, 0.05, 0.01


@dataclass(frozen=True)
class Known:
    """Noise of a measure, its smallest worthwhile change, the standard and the athletes.

    The defaults are for a measure without curves: noise and change are common practice, no source,
    and the athletes are those of the benchmarks. Noise and change are in %, the standard is in
    `unit`.
    """

    effort_pct: float = 3.0
    day_pct: float = 2.0
    worthwhile_pct: float = 1.0
    standard: float = 15.0
    spread: Spread = field(default_factory=Spread)
    unit: str = "efforts"


def known_of(store: Store, measure: str) -> Known | None:
    """Return what the newest curves of a measure say about it; None if there are none.

    The standard is in effect, as in a fit.
    """
    fit = latest_fit(store, measure)
    if fit is None:
        return None
    summary = data_summary(store)
    tested = summary.loc[summary["measure"] == measure, "athlete"]
    rows = responses(store, measure)
    rows = rows[rows["athlete"].isin(tested)]
    best, gain = rows["best_volume"].median(), np.log1p(rows["gain_pct"].median() / 100.0)
    return Known(
        effort_pct=fit.effort_noise_pct,
        day_pct=fit.day_noise_pct,
        worthwhile_pct=fit.worthwhile_pct,
        standard=fit.standard_volume,
        spread=Spread(
            max(float(best), LEAST_BEST),
            max(fit.spread_log_sd, LEAST_LOG_SD),
            max(float(gain), LEAST_GAIN),
        ),
        unit=get_measure(store, measure).volume_unit,
    )
