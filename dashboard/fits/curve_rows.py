"""What pages know about one athlete's curve: a row of a fit's responses."""

from __future__ import annotations

from datetime import datetime
from typing import NotRequired, TypedDict, cast

import pandas as pd


class CurveRow(TypedDict):
    """A row of `dashboard.fits.usual_terms.responses`.

    The fields after `fitted_at` are there once `dashboard.fits.lengths.responses` has added the
    length. `good_from` and `good_to` are missing if there is no good range.
    """

    athlete: str
    name: str
    sessions: int
    efforts: int
    best_volume: float
    best_volume_low: float
    best_volume_high: float
    gain_pct: float
    gain_pct_low: float
    gain_pct_high: float
    hold_volume: float
    hold_volume_low: float
    hold_volume_high: float
    advised_volume: float
    loss_at_standard_pct: float
    loss_at_standard_pct_low: float
    loss_at_standard_pct_high: float
    chance_short: float
    chance_long: float
    chance_either: float
    call: str
    reach: str
    good_from: float
    good_to: float
    fitted_at: datetime
    length: NotRequired[float]
    lost_pct: NotRequired[float | None]
    limited_by: NotRequired[str | None]
    wanted_volume: NotRequired[float]
    most_allowed: NotRequired[float]


def curve_rows(responses: pd.DataFrame) -> list[CurveRow]:
    """Return the rows of a frame of responses."""
    return cast(list[CurveRow], responses.to_dict("records"))


def curve_row(responses: pd.DataFrame, athlete: str) -> CurveRow | None:
    """Return an athlete's row, or None if there is none."""
    return next(iter(curve_rows(responses[responses["athlete"] == athlete])), None)
