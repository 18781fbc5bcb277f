"""Predictions of the public estimator, from what is known about a day."""

from __future__ import annotations

from collections.abc import Mapping
from typing import overload

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from sklearn.utils.validation import check_is_fitted

from modeling.answers.asked_rows import Tried, asked_rows, check_known, warn_of_guesses
from modeling.answers.folding import Folding
from modeling.answers.prediction import COLUMNS, TURNED, predict_rows
from modeling.errors import ModelError
from modeling.fit.posterior import Posterior

__all__ = ["Predictor"]


class Predictor(Folding):
    """The part of `ResponseModel` that predicts."""

    unknown: str
    left_out_: Mapping[object, str]
    midnight_: pd.Timestamp | None
    readiness_: Mapping[object, float]

    @overload
    def predict(self, X: pd.DataFrame, interval: None = None) -> NDArray[np.float64]: ...
    @overload
    def predict(self, X: pd.DataFrame, interval: float) -> pd.DataFrame: ...
    def predict(
        self, X: pd.DataFrame, interval: float | None = None
    ) -> NDArray[np.float64] | pd.DataFrame:
        """Predict values on an average day, neither a good nor a bad one.

        Parameters
        ----------
        X : DataFrame of shape (n_rows, ...)
            Columns as in `fit`, at least athlete and volume (or `volume_before`). A circumstance
            without a column takes the squad's usual value, and volumes are then as done in these
            circumstances. An empty cell means what it means in `fit`. Without a session column
            each row is a session of its own, with all of its volume done before the rest. Without
            a day column rows are predicted for the average over the athlete's session days.
        interval : float, optional
            Share of values that intervals should hold, such as 0.9.

        Returns
        -------
        array of shape (n_rows,) or DataFrame
            Values in the unit of those fitted. With `interval`, the columns of
            `prediction.COLUMNS`, with the rows' order and index.

        Raises
        ------
        ModelError
            The fit does not know an athlete (see the parameter `unknown`), a column is missing,
            or rows are unusable.
        NotFittedError
            The model is not fitted.

        Warns
        -----
        SquadGuessWarning
            Volumes are larger than any that the athlete has tried, or well below all of them. The
            warning says from which volume on a prediction is the squad's guess, and from which
            volume on nobody has tried anything.

        Notes
        -----
        Intervals allow for the uncertainty of the athlete's curve and level and of the effects
        that all share; noise sizes are taken as known.
        """
        check_is_fitted(self, "responses_")
        if interval is not None and not 0.0 < interval < 1.0:
            raise ModelError(f"interval must be between 0 and 1, such as 0.9. Got {interval}.")
        shares = None if interval is None else 0.5 + 0.5 * np.array([-interval, interval])
        asked = asked_rows(
            X,
            midnight=self.midnight_,
            usual=self.usual_volumes,
            marks=self.fit_.learned.shared.marks,
            readiness=self.readiness_,
            effort_rest_seconds=self.effort_rest_seconds,
        )
        if self.unknown == "error":
            check_known((rows.athlete for rows in asked), {**self.responses_, **self.left_out_})
        posteriors = [self.posterior(rows.athlete) for rows in asked]
        tried = [self._tried(posterior) for posterior in posteriors]
        anybody = self.fit_.data.highest_volume
        warn_of_guesses(zip(asked, tried, strict=True), anybody, self.usual_volumes, stacklevel=2)
        columns = {name: np.empty(len(X)) for name in (COLUMNS if shares is not None else ["mean"])}
        for rows, posterior in zip(asked, posteriors, strict=True):
            found = predict_rows(self.fit_, posterior, rows)
            logs = {"mean": found.expected, **({} if shares is None else found.bounds(shares))}
            for name, log in logs.items():
                columns[name][rows.row] = self._values(log)
        if shares is None:
            return columns["mean"]
        table = pd.DataFrame(columns, X.index)
        return table if self.higher_is_better else table.rename(columns=TURNED)[list(COLUMNS)]

    def _tried(self, posterior: Posterior) -> Tried:
        """Volumes in effect that an athlete has tried; without data, those that anybody has."""
        rows = posterior.rows
        if rows is None:
            return Tried(0.0, self.fit_.data.highest_volume)
        return Tried(float(rows.volume.min()), float(rows.volume.max()))
