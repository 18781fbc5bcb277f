"""The rows a fit works on, checked once and laid out by athlete."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from modeling.errors import ModelError

__all__ = ["AthleteRows", "arrange"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

NEEDED = ("athlete", "session", "volume")
REFERENCE_CONTEXT = "training"


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
    context : array of shape (n_sessions,)
        Context of each session as text.
    session_index : array of shape (n_efforts,)
        Which of `sessions` each effort belongs to.
    volume, value, weight : arrays of shape (n_efforts,)
        Volume done before the effort, the transformed value (higher is better),
        and the caller's weight (1 unless told otherwise).
    """

    athlete: object
    sessions: NDArray[np.object_]
    day: FloatArray
    context: NDArray[np.object_]
    session_index: IntArray
    volume: FloatArray
    value: FloatArray
    weight: FloatArray

    @property
    def efforts(self) -> int:
        """Number of efforts."""
        return len(self.value)

    def session_sums(self, per_effort: FloatArray) -> FloatArray:
        """Sum an (n_efforts, ...) array within sessions to (n_sessions, ...)."""
        return np.add.reduceat(per_effort, self._starts, axis=0)

    @cached_property
    def _starts(self) -> IntArray:
        """Where each session begins."""
        return np.flatnonzero(np.diff(self.session_index, prepend=-1))


def arrange(
    X: pd.DataFrame,  # noqa: N803 - scikit-learn's name for the table of inputs
    y: ArrayLike,
    *,
    scale: str = "log",
    higher_is_better: bool = True,
    sample_weight: ArrayLike | None = None,
) -> list[AthleteRows]:
    """Check a table of efforts and lay it out by athlete.

    Parameters
    ----------
    X : DataFrame of shape (n_efforts, ...)
        Columns `athlete`, `session`, `volume` (0 or more), and, if known, `day`
        (days, any origin) and `context`.
    y : array-like of shape (n_efforts,)
        Values; positive if `scale` is "log".
    scale : {"log", "identity"}
        How values enter the model.
    higher_is_better : bool
        False turns the sign, so that a sprint time peaks where it is shortest.
    sample_weight : array-like of shape (n_efforts,), optional
        Inverse variances, up to a factor.

    Returns
    -------
    list of AthleteRows
        In the order of the athletes' codes, whatever the order of the rows.

    Raises
    ------
    ModelError
        A column is missing, or a volume, value or weight is missing, infinite or
        out of range (the first five rows are named). Missing values are never
        filled in: leave such rows out.
    """
    missing = [name for name in NEEDED if name not in X.columns]
    if missing:
        raise ModelError(
            f"The table of efforts lacks {', '.join(missing)}. "
            f"It needs the columns {', '.join(NEEDED)}; day and context are welcome."
        )
    value = np.asarray(y, dtype=float)
    if value.shape != (len(X),):
        raise ModelError(f"There are {len(X)} rows but {value.size} values; give one value a row.")
    if len(X) == 0:
        raise ModelError("There are no efforts to fit. Store or import some first.")
    frame = pd.DataFrame(
        {
            "athlete": X["athlete"].to_numpy(),
            "session": X["session"].to_numpy(),
            "volume": _numbers(X["volume"], "volume"),
            "value": value,
            "weight": 1.0 if sample_weight is None else np.asarray(sample_weight, dtype=float),
            "day": _numbers(X["day"], "day") if "day" in X.columns else 0.0,
            "context": (
                X["context"].astype(object).where(X["context"].notna(), REFERENCE_CONTEXT)
                if "context" in X.columns
                else REFERENCE_CONTEXT
            ),
        }
    )
    lowest = 0.0 if scale == "log" else -np.inf
    _demand(np.isfinite(value) & (value > lowest), "value", "a finite number above 0", frame)
    volume, weight = frame["volume"].to_numpy(), frame["weight"].to_numpy()
    _demand(np.isfinite(volume) & (volume >= 0), "volume", "a finite number, 0 or more", frame)
    _demand(np.isfinite(weight) & (weight > 0), "weight", "a finite number above 0", frame)
    _demand(np.isfinite(frame["day"].to_numpy()), "day", "a finite number", frame)
    transformed = np.log(value) if scale == "log" else value
    frame["value"] = transformed if higher_is_better else -transformed
    # Value is the last key so that ties in volume come out alike in any order of rows.
    frame = frame.sort_values(["athlete", "day", "session", "volume", "value"], kind="stable")
    return [_athlete_rows(code, rows) for code, rows in frame.groupby("athlete", sort=True)]


def _athlete_rows(code: object, rows: pd.DataFrame) -> AthleteRows:
    session = rows["session"].to_numpy()
    index, labels = pd.factorize(session)
    order = np.argsort(index, kind="stable")
    rows = rows.iloc[order]
    index = index[order]
    first = np.flatnonzero(np.diff(index, prepend=-1))
    return AthleteRows(
        athlete=code,
        sessions=np.asarray(labels, dtype=object),
        day=rows["day"].to_numpy(dtype=float)[first],
        context=rows["context"].to_numpy(dtype=object)[first],
        session_index=index.astype(np.intp),
        volume=rows["volume"].to_numpy(dtype=float),
        value=rows["value"].to_numpy(dtype=float),
        weight=rows["weight"].to_numpy(dtype=float),
    )


def _numbers(column: pd.Series, name: str) -> FloatArray:
    try:
        return np.asarray(column, dtype=float)
    except (TypeError, ValueError) as error:
        raise ModelError(f"The column {name} holds something that is not a number.") from error


def _demand(fine: NDArray[np.bool_], name: str, allowed: str, frame: pd.DataFrame) -> None:
    if fine.all():
        return
    bad = np.flatnonzero(~fine)
    found = ", ".join(f"row {i}: {frame[name].iloc[i]}" for i in bad[:5])
    raise ModelError(
        f"{len(bad)} of {len(frame)} rows have a {name} that is not {allowed} ({found}). "
        "Correct these rows or leave them out."
    )
