"""A fit's athletes as tables: one row for each, and their curves as long data."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import pandas as pd

from modeling.estimate import interval

if TYPE_CHECKING:
    from modeling.answers.response import Curve, Response

__all__ = ["curve_frame", "response_frame"]


def response_frame(responses: Iterable[Response]) -> pd.DataFrame:
    """Return a row for each response, with volumes in effect.

    Without efforts `reach` is "inside", as the squad's curve lies within what the squad tried;
    `good_from` and `good_to` are missing where there is no good range.
    """
    frame = pd.DataFrame.from_records([_record(response) for response in responses])
    if frame.empty:
        return frame
    return frame.astype({"good_from": float, "good_to": float})


def _record(response: Response) -> dict[str, object]:
    """Return one athlete's response by column name."""
    q25, q75 = response.best_volume_half
    plain = ("athlete", "sessions", "efforts", "advised_volume", "call", "good_from", "good_to")
    chances = ("chance_short", "chance_long", "chance_either")
    return {
        **{name: getattr(response, name) for name in plain},
        # Rounding can take a chance, which is a sum of weights, slightly past 1.
        **{name: min(getattr(response, name), 1.0) for name in chances},
        **interval("best_volume", response.best_volume),
        "best_volume_q25": q25,
        "best_volume_q75": q75,
        "reach": response.reach or "inside",
        **interval("gain_pct", response.gain_pct),
        **interval("hold_volume", response.hold_volume),
        **interval("loss_at_standard_pct", response.loss_at_standard_pct),
    }


def curve_frame(curves: Iterable[tuple[object, Curve]]) -> pd.DataFrame:
    """Return a row for each athlete and volume in effect, with the 90 % band of the change."""
    return pd.concat([_rows(athlete, curve) for athlete, curve in curves], ignore_index=True)


def _rows(athlete: object, curve: Curve) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "athlete": pd.Series([athlete] * len(curve.volume), dtype=object),
            "volume": curve.volume,
            "change_pct": curve.change_pct,
            "change_pct_low": curve.change_pct_low,
            "change_pct_high": curve.change_pct_high,
        }
    )
