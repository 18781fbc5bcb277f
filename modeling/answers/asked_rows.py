"""Rows that are to be predicted, laid out as a fit lays out what it is given."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from modeling.curve.account import Account, Circumstances
from modeling.efforts.effort_columns import model_columns
from modeling.efforts.observations import AthleteRows, arrange

__all__ = ["asked_rows"]


def asked_rows(
    X: pd.DataFrame,
    *,
    midnight: pd.Timestamp | None,
    usual: Circumstances,
    account: Account,
    marks: Collection[str],
    readiness: Mapping[object, float],
) -> list[AthleteRows]:
    """Lay out rows without values by athlete, volumes in effect.

    Parameters
    ----------
    X : DataFrame of shape (n_rows, ...)
        As for `ResponseModel.predict`; what is excluded from fits is predicted as well.
    midnight : Timestamp or None
        What days of the fit are counted from, if it was told when sessions began.
    usual : Circumstances
        The squad's, for what has no column.
    account : Account
    marks : collection of str
        What the fit knows to move the level.
    readiness : mapping of athlete to float
        Own means of the athletes fitted.

    Returns
    -------
    list of AthleteRows
        Days are missing where the rows have none.

    Raises
    ------
    ModelError
        As `fit` does.
    """
    table = model_columns(X, midnight).drop(columns="excluded", errors="ignore")
    more: dict[str, Any] = {}
    if "session" not in table:
        more["session"] = np.arange(len(table))
    if "rest_minutes" not in table:
        more["rest_minutes"] = usual.rest_minutes
    arranged = arrange(
        table.assign(**more),
        np.ones(len(table)),
        usual=usual,
        marks=marks,
        readiness=readiness,
    )
    under = [rows.under(account) for rows in arranged]
    if "day" in table:
        return under
    return [replace(rows, day=np.full(len(rows.day), np.nan)) for rows in under]
