"""Rows to predict, laid out the way a fit lays out its efforts."""

from __future__ import annotations

import warnings
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from modeling.curve.usual_volumes import UsualVolumes
from modeling.efforts.effort_columns import model_columns
from modeling.efforts.observations import AthleteRows, arrange
from modeling.errors import ModelError, SquadGuessWarning

__all__ = ["Tried", "asked_rows", "check_known", "warn_of_guesses"]

MOST_NAMED = 5
HAIR = 1e-9
"""Share of a volume that rounding may add."""
NEAR = 0.2
"""Volumes below those tried still count as tried within this share of the range tried."""


def asked_rows(
    X: pd.DataFrame,
    *,
    midnight: pd.Timestamp | None,
    usual: UsualVolumes,
    marks: Collection[str],
    readiness: Mapping[object, float],
    effort_rest_seconds: float | None,
) -> list[AthleteRows]:
    """Lay out rows without values by athlete, volumes in effect.

    Parameters
    ----------
    X : DataFrame of shape (n_rows, ...)
        As for `ResponseModel.predict`; rows that are excluded from fits are predicted too.
    midnight : Timestamp or None
        Day 0 of the fit, if the efforts said when sessions began.
    usual : UsualVolumes
        The squad's usual circumstances, used where a column is missing, and the account.
    marks : collection of str
        What moves the level, as far as the fit knows.
    readiness : mapping of athlete to float
        Mean readiness of each fitted athlete.
    effort_rest_seconds : float or None
        Rest that the measure asks for between two efforts.

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
        more["rest_minutes"] = usual.usual.rest_minutes
    arranged = arrange(
        table.assign(**more),
        np.ones(len(table)),
        usual=usual.usual,
        marks=marks,
        readiness=readiness,
        effort_rest_seconds=effort_rest_seconds,
    )
    under = [rows.under(usual.account) for rows in arranged]
    if "day" in table:
        return under
    return [replace(rows, day=np.full(len(rows.day), np.nan)) for rows in under]


def check_known(asked: Iterable[object], known: Collection[object]) -> None:
    """Refuse athletes that a fit does not know.

    Raises
    ------
    ModelError
        Some athletes are not in the fit; the message names them.
    """
    others = [code for code in asked if code not in known]
    if not others:
        return
    some = ", ".join(map(str, others[:MOST_NAMED]))
    told = ", ".join(map(str, list(known)[:MOST_NAMED]))
    raise ModelError(
        f"Not in the fit: {_and_more(some, len(others))}. It has"
        f" {_and_more(told, len(known)) or 'no athlete'}. Correct the code, fit their efforts too,"
        " or predict them as somebody of the squad: ResponseModel(unknown='squad')."
    )


@dataclass(frozen=True)
class Tried:
    """Smallest and largest volume in effect that an athlete has tried."""

    least: float
    most: float

    @property
    def begins(self) -> float:
        """Volume below which nothing near was tried: a fifth of the range under the smallest."""
        return self.least - NEAR * (self.most - self.least)


def warn_of_guesses(
    asked: Iterable[tuple[AthleteRows, Tried]], anybody: float, usual: UsualVolumes, stacklevel: int
) -> None:
    """Warn where predictions are the squad's guess, and say from which volume on.

    Parameters
    ----------
    asked : iterable of (AthleteRows, Tried)
        Rows to predict, with what the athlete has tried.
    anybody : float
        Largest volume in effect that anybody has tried.
    usual : UsualVolumes
        Turns volumes into those done, which the warning shows.
    stacklevel : int
        As for `warnings.warn`, from the caller.
    """
    guessed, most = [], 0.0
    for rows, tried in asked:
        ends = []
        if rows.volume.min() < tried.begins - HAIR:
            ends.append(f"below {float(usual.to_do(tried.least)):.1f}")
        if rows.volume.max() > tried.most * (1.0 + HAIR):
            ends.append(f"from {float(usual.to_do(tried.most)):.1f} on")
        if ends:
            guessed.append(f"{rows.athlete} {' and '.join(ends)}")
        most = max(most, float(rows.volume.max()))
    if not guessed:
        return
    some = "; ".join(guessed[:MOST_NAMED])
    nobody = (
        f" Nobody has tried more than {float(usual.to_do(anybody)):.1f}: beyond that it rests on"
        " the form of the curves alone."
        if most > anybody * (1.0 + HAIR)
        else ""
    )
    warnings.warn(
        f"Some volumes are outside those tried: {_and_more(some, len(guessed))}. There the"
        f" prediction is the squad's guess.{nobody} (Volumes as done in the usual circumstances.)",
        SquadGuessWarning,
        stacklevel=stacklevel + 1,
    )


def _and_more(named: str, count: int) -> str:
    return f"{named} and {count - MOST_NAMED} more" if count > MOST_NAMED else named
