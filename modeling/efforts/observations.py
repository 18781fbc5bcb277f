"""The rows a fit works on, checked once and laid out by athlete."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from modeling.curve.account import REFERENCE_C, REFERENCE_HOUR, Account, Circumstances, Work
from modeling.curve.pauses import pause_minutes
from modeling.efforts.checked_efforts import FACTS, REFERENCE_CONTEXT, checked_efforts, numbers

__all__ = ["AthleteRows", "arrange", "most_done", "own_readiness", "usual_circumstances"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

COLUMNS = (
    "day volume value weight row general_minutes rest_minutes ambient_c hours_early pause".split()
)
"""What `AthleteRows` takes from each effort."""

GAME_FADES_DAYS = 2.0
"""A game's traces on the level shrink to 1/e in this many days (common practice, no source)."""


@dataclass(frozen=True)
class AthleteRows:
    """One athlete's efforts, in the order of day, session and volume.

    Attributes
    ----------
    athlete : object
        The athlete's code.
    sessions : array of shape (n_sessions,)
        Session labels in time order.
    day : array of shape (n_sessions,)
        Time of each session in days, from any origin.
    marks : mapping of str to array of shape (n_sessions,)
        What may move the level: 1 or 0 for each context but training, "cold" in tens of degrees
        below 20, "early" in quarters of a day before 16:00, "after a game" from 1 on the day
        to 0 long after, "readiness" in units of 2 points above the athlete's own mean.
    session_index : array of shape (n_efforts,)
        Which of `sessions` each effort belongs to.
    volume, value, weight : arrays of shape (n_efforts,)
        Volume done before the effort, the transformed value (higher is better),
        and the caller's weight (1 unless told otherwise).
    row : array of shape (n_efforts,)
        Place of each effort in the table it came from.
    """

    athlete: object
    sessions: NDArray[np.object_]
    day: FloatArray
    marks: Mapping[str, FloatArray]
    session_index: IntArray
    volume: FloatArray
    value: FloatArray
    weight: FloatArray
    work: Work
    row: IntArray

    @property
    def efforts(self) -> int:
        """Number of efforts."""
        return len(self.value)

    def session_sums(self, per_effort: FloatArray) -> FloatArray:
        """Sum an (n_efforts, ...) array within sessions to (n_sessions, ...)."""
        return np.add.reduceat(per_effort, self._starts, axis=0)

    def under(self, account: Account) -> AthleteRows:
        """Return the same efforts with the volumes in effect under an account."""
        return replace(self, volume=account.in_effect(self.work))

    @cached_property
    def tried(self) -> tuple[FloatArray, IntArray]:
        """The volumes tried, rising, and which of them each effort was made at."""
        volume, place = np.unique(self.volume, return_inverse=True)
        return volume, place

    @cached_property
    def _starts(self) -> IntArray:
        """Where each session begins."""
        return np.flatnonzero(np.diff(self.session_index, prepend=-1))


def arrange(
    X: pd.DataFrame,  # scikit-learn's name for the table of inputs
    y: ArrayLike,
    *,
    scale: str = "log",
    higher_is_better: bool = True,
    sample_weight: ArrayLike | None = None,
    usual: Circumstances | None = None,
    marks: Collection[str] | None = None,
    readiness: Mapping[object, float] | None = None,
    effort_rest_seconds: float | None = None,
) -> list[AthleteRows]:
    """Check a table of efforts and lay it out by athlete.

    Parameters
    ----------
    X : DataFrame of shape (n_efforts, ...)
        Columns `athlete`, `session`, `volume` (0 or more), and, if known, `day`
        (days, any origin), `context` and the session's `FACTS`. Rows with a reason in
        `excluded` are passed over.
    y : array-like of shape (n_efforts,)
        Values; positive if `scale` is "log".
    scale : {"log", "identity"}
        How values enter the model.
    higher_is_better : bool
        False turns the sign, so that a sprint time peaks where it is shortest.
    sample_weight : array-like of shape (n_efforts,), optional
        Inverse variances, up to a factor.
    usual : Circumstances, optional
        What to take if a session's general minutes, temperature or hour are not known; None takes
        the medians of those that are. Rest that is not known counts as none.
    marks : collection of str, optional
        What may move the level; None takes everything that is not the same in every row.
    readiness : mapping of athlete to float, optional
        What readiness is compared with; None takes each athlete's mean over these rows.
    effort_rest_seconds : float, optional
        Rest between two efforts that the measure asks for; rest beyond it is a pause, in which
        warmth fades. None means no pauses.

    Returns
    -------
    list of AthleteRows
        In the order of the athletes' codes, whatever the order of the rows.

    Raises
    ------
    ModelError
        A column is missing, or a volume, value or weight is missing, infinite or
        out of range (the first five rows are named). Missing volumes and values are
        never filled in: leave such rows out.
    """
    frame = checked_efforts(X, y, sample_weight, 0.0 if scale == "log" else -np.inf)
    transformed = np.log(frame["value"]) if scale == "log" else frame["value"]
    frame["value"] = transformed if higher_is_better else -transformed
    # Value is the last key so that ties in volume come out the same in any order of rows.
    frame = frame.sort_values(["athlete", "day", "session", "volume", "value"], kind="stable")
    frame = _completed(frame, usual or usual_circumstances(frame)).reset_index(drop=True)
    frame["pause"] = pause_minutes(frame["effort_rest_seconds"], effort_rest_seconds)
    levels = _marks(frame, marks, readiness)
    # Columns are taken apart once: many small tables would take longer than the fit's rounds.
    columns = {name: frame[name].to_numpy() for name in ("session", *COLUMNS)}
    own = frame.groupby("athlete", sort=True).indices
    return [
        _athlete_rows(code, np.asarray(places), columns, levels) for code, places in own.items()
    ]


def usual_circumstances(X: pd.DataFrame) -> Circumstances:
    """Medians over the sessions of a table of efforts; facts nobody told are at the reference."""
    known = [name for name in ("athlete", "session") if name in X.columns]
    told = X.drop_duplicates(known or None).reindex(columns=list(FACTS))
    return Circumstances(
        general_minutes=_median(numbers(told["general_minutes"], "general_minutes"), 0.0),
        rest_minutes=_median(np.nan_to_num(numbers(told["rest_minutes"], "rest_minutes")), 0.0),
        ambient_c=_median(numbers(told["ambient_c"], "ambient_c"), REFERENCE_C),
        hour=_median(numbers(told["hour"], "hour"), REFERENCE_HOUR),
    )


def own_readiness(X: pd.DataFrame) -> dict[object, float]:
    """Mean readiness of each athlete over their efforts, for those who told any."""
    return _by_athlete(X, "readiness", "mean")


def most_done(X: pd.DataFrame) -> dict[object, float]:
    """Most volume that each athlete has done before an effort outside fade tests.

    A session whose `kind` is not told counts as no fade test.
    """
    return _by_athlete(X[X["kind"] != "fade"] if "kind" in X else X, "volume", "max")


def _by_athlete(X: pd.DataFrame, name: str, of: str) -> dict[object, float]:
    """Take a column's mean or maximum for each athlete who told any of it."""
    if name not in X or "athlete" not in X:
        return {}
    told = pd.Series(numbers(X[name], name)).groupby(X["athlete"].to_numpy()).agg(of).dropna()
    return dict(zip(told.index, told.tolist(), strict=True))


def _median(told: FloatArray, otherwise: float) -> float:
    known = told[~np.isnan(told)]
    return float(np.median(known)) if len(known) else otherwise


def _completed(frame: pd.DataFrame, usual: Circumstances) -> pd.DataFrame:
    """Fill in the circumstances that a session does not tell."""
    completed = frame.fillna(
        {
            "general_minutes": usual.general_minutes,
            "rest_minutes": 0.0,
            "ambient_c": usual.ambient_c,
            "hour": usual.hour,
        }
    )
    early = (REFERENCE_HOUR - completed["hour"]).clip(lower=0.0)
    return completed.assign(hours_early=early)


def _marks(
    frame: pd.DataFrame,
    wanted: Collection[str] | None,
    readiness: Mapping[object, float] | None,
) -> dict[str, FloatArray]:
    """Give what may move the level, by effort: what is wanted, else all that varies."""
    context = frame["context"].astype(str).to_numpy()
    contexts = sorted(set(context) - {REFERENCE_CONTEXT})
    columns = {name: (context == name).astype(float) for name in contexts}
    columns["cold"] = (REFERENCE_C - frame["ambient_c"].to_numpy()) / 10.0
    columns["early"] = frame["hours_early"].to_numpy() / 6.0
    since_game = frame["days_since_game"].to_numpy()
    columns["after a game"] = np.nan_to_num(np.exp(-since_game / GAME_FADES_DAYS))
    if frame["readiness"].notna().any():
        own_mean = (
            frame.groupby("athlete")["readiness"].transform("mean")
            if readiness is None
            else frame["athlete"].map(dict(readiness)).astype(float)
        )
        columns["readiness"] = np.nan_to_num(((frame["readiness"] - own_mean) / 2.0).to_numpy())
    return {
        name: column
        for name, column in columns.items()
        if (name in contexts or column.max() > column.min() if wanted is None else name in wanted)
    }


def _athlete_rows(
    code: object,
    places: IntArray,
    columns: Mapping[str, NDArray[Any]],
    marks: Mapping[str, FloatArray],
) -> AthleteRows:
    index, labels = pd.factorize(columns["session"][places])
    order = np.argsort(index, kind="stable")
    places, index = places[order], index[order]
    column = {name: columns[name][places] for name in COLUMNS}
    first = np.flatnonzero(np.diff(index, prepend=-1))
    volume = column["volume"]
    before = volume[first][index]
    work = Work(
        before=before,
        since=volume - before,
        general=column["general_minutes"],
        rest=column["rest_minutes"],
        cold=REFERENCE_C - column["ambient_c"],
        early=column["hours_early"],
        pause=column["pause"],
    )
    return AthleteRows(
        athlete=code,
        sessions=np.asarray(labels, dtype=object),
        day=column["day"][first],
        marks={name: mark[places[first]] for name, mark in marks.items()},
        session_index=index.astype(np.intp),
        volume=Account().in_effect(work),
        value=column["value"],
        weight=column["weight"],
        row=column["row"],
        work=work,
    )
