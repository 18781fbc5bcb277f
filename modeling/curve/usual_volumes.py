"""Volumes in effect as volumes done in the squad's usual circumstances, and back.

A fit gives volumes in effect: without a general part, without rest, at 20 degrees, at 16:00. Nobody
warms up like that, so pages, exports and tables of results give volumes as done: 15 means 15 as the
squad usually does them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from modeling.curve.account import Account, Circumstances

__all__ = ["CIRCUMSTANCES", "SPANS", "TOLD_VOLUMES", "VOLUMES", "UsualVolumes"]

FloatArray = NDArray[np.float64]

CIRCUMSTANCES = ("general_minutes", "rest_minutes", "ambient_c", "hour")
"""The squad's usual circumstances that results are given for."""

VOLUMES = tuple(
    "best_volume best_volume_low best_volume_high best_volume_q25 best_volume_q75 advised_volume"
    " good_from good_to".split()
)
"""Columns of responses that hold volumes."""

SPANS = ("hold_volume", "hold_volume_low", "hold_volume_high")
"""Columns of responses that hold a distance between volumes."""

TOLD_VOLUMES = tuple(name for name in (*VOLUMES, *SPANS) if "_q" not in name)
"""Columns of both kinds that exports and tables of results contain."""

CHANGES = ["change_pct", "change_pct_low", "change_pct_high"]


@dataclass(frozen=True)
class UsualVolumes:
    """What turns volumes in effect into volumes done, and back.

    Attributes
    ----------
    account : Account
    usual : Circumstances
        The squad's.
    """

    account: Account
    usual: Circumstances

    @property
    def share(self) -> float:
        """Volume in effect of one unit done, after the usual rest."""
        one, none = self.in_effect([1.0, 0.0])
        return float(one - none)

    def to_do(self, in_effect: ArrayLike) -> FloatArray:
        """Volume to do; 0 if the general part is enough."""
        wanted = self.account.volume_to_do(np.asarray(in_effect, dtype=float), self.usual)
        return np.maximum(wanted, 0.0)

    def in_effect(self, done: ArrayLike) -> FloatArray:
        """Volume in effect of what is done in the usual circumstances."""
        return self.account.volume_in_effect(np.asarray(done, dtype=float), self.usual)

    def columns(self) -> dict[str, float]:
        """Give the usual circumstances as columns of a table of results."""
        return {f"usual_{name}": float(getattr(self.usual, name)) for name in CIRCUMSTANCES}

    def done(self, rows: pd.DataFrame, volumes: Sequence[str] = VOLUMES) -> pd.DataFrame:
        """Turn columns of volumes in effect, and any of `SPANS`, into volumes done."""
        spans = {name: rows[name] / self.share for name in volumes if name in SPANS}
        return rows.assign(
            **{name: self.to_do(rows[name]) for name in volumes if name not in spans}, **spans
        )

    def curve_rows(self, rows: pd.DataFrame) -> pd.DataFrame:
        """Turn the shared volumes of curves into volumes done, and cut the curves off at 0.

        Parameters
        ----------
        rows : DataFrame
            `volume` and the changes in %; `athlete` where there are several.
        """
        if rows.empty:
            return rows
        volume = self.account.volume_to_do(rows["volume"].to_numpy(dtype=float), self.usual)
        turned = rows.assign(volume=volume)
        begins = float(volume.min())
        if begins >= 0.0:
            return turned
        knots = np.sort(turned["volume"].unique())
        above = float(knots[np.searchsorted(knots, 0.0)])
        below = float(knots[np.searchsorted(knots, 0.0) - 1])
        share = -below / (above - below)
        first = turned[turned["volume"] == below].reset_index(drop=True)
        second = turned[turned["volume"] == above].reset_index(drop=True)
        first[CHANGES] = (1.0 - share) * first[CHANGES] + share * second[CHANGES]
        kept = [first.assign(volume=0.0), turned[turned["volume"] > 0.0]]
        order = [name for name in ("athlete", "volume") if name in turned]
        return pd.concat(kept).sort_values(order, kind="stable").reset_index(drop=True)
