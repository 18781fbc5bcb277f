"""The table of efforts that a fit is given, checked once."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from modeling.efforts.effort_columns import usable
from modeling.errors import ModelError

__all__ = ["FACTS", "REFERENCE_CONTEXT", "checked_efforts", "numbers"]

FloatArray = NDArray[np.float64]

NEEDED = ("athlete", "session", "volume")
REFERENCE_CONTEXT = "training"

FACTS = {
    "general_minutes": (0.0, 600.0),
    "rest_minutes": (0.0, 1440.0),
    "effort_rest_seconds": (0.0, 3600.0),
    "ambient_c": (-40.0, 60.0),
    "hour": (0.0, 24.0),
    "days_since_game": (0.0, 10_000.0),
    "readiness": (0.0, 10.0),
}
"""Facts of a session that may be told, with their allowed ranges; missing ones are left empty."""


def checked_efforts(
    X: pd.DataFrame, y: ArrayLike, sample_weight: ArrayLike | None, lowest_value: float
) -> pd.DataFrame:
    """Give the rows that count, with all that is known about them.

    Parameters as for `observations.arrange`; values must be above `lowest_value`.

    Returns
    -------
    DataFrame
        `athlete`, `session`, `volume`, `value`, `row` (place in the table given), `weight`, `day`,
        `context` and `FACTS`, the last missing where nobody told them.

    Raises
    ------
    ModelError
        As `observations.arrange` does.
    """
    missing = [name for name in NEEDED if name not in X.columns]
    if missing:
        raise ModelError(
            f"The table of efforts lacks {', '.join(missing)}. "
            f"It needs the columns {', '.join(NEEDED)}, or started_at for the session and "
            "volume_before for the volume; day and context are welcome."
        )
    value = np.asarray(y, dtype=float)
    if value.shape != (len(X),):
        raise ModelError(f"There are {len(X)} rows but {value.size} values; give one value a row.")
    weight = np.ones(len(X)) if sample_weight is None else np.asarray(sample_weight, dtype=float)
    used = np.flatnonzero(usable(X))
    X, value, weight = X.iloc[used], value[used], weight[used]
    if len(X) == 0:
        raise ModelError("There are no efforts to fit. Store or import some first.")
    frame = pd.DataFrame(
        {
            "athlete": X["athlete"].to_numpy(),
            "session": X["session"].to_numpy(),
            "volume": numbers(X["volume"], "volume"),
            "value": value,
            "row": used,
            "weight": weight,
            "day": numbers(X["day"], "day") if "day" in X.columns else 0.0,
            "context": (
                X["context"].astype(object).where(X["context"].notna(), REFERENCE_CONTEXT)
                if "context" in X.columns
                else REFERENCE_CONTEXT
            ),
        }
    )
    for name in ("athlete", "session"):
        _demand(frame[name].notna().to_numpy(), name, "there", frame)
    _demand(np.isfinite(value) & (value > lowest_value), "value", "a finite number above 0", frame)
    volume = frame["volume"].to_numpy()
    _demand(np.isfinite(volume) & (volume >= 0), "volume", "a finite number, 0 or more", frame)
    _demand(np.isfinite(weight) & (weight > 0), "weight", "a finite number above 0", frame)
    _demand(np.isfinite(frame["day"].to_numpy()), "day", "a finite number", frame)
    for name, (lowest, highest) in FACTS.items():
        frame[name] = numbers(X[name], name) if name in X.columns else np.nan
        told = frame[name].to_numpy()
        fine = np.isnan(told) | ((told >= lowest) & (told <= highest))
        _demand(fine, name, f"between {lowest:g} and {highest:g}, or empty", frame)
    return frame


def numbers(column: pd.Series, name: str) -> FloatArray:
    """Give a column as numbers, missing where it is empty.

    Raises
    ------
    ModelError
        If it holds anything else.
    """
    try:
        return np.asarray(column, dtype=float)
    except (TypeError, ValueError) as error:
        raise ModelError(f"The column {name} holds something that is not a number.") from error


def _demand(fine: NDArray[np.bool_], name: str, allowed: str, frame: pd.DataFrame) -> None:
    if fine.all():
        return
    bad = np.flatnonzero(~fine)
    article = "an" if name[0] in "aeiou" else "a"
    found = ", ".join(f"row {frame['row'].iloc[i]}: {frame[name].iloc[i]}" for i in bad[:5])
    raise ModelError(
        f"{len(bad)} of {len(frame)} rows have {article} {name} that is not {allowed} ({found}). "
        "Correct these rows or leave them out."
    )
