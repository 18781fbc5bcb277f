"""One athlete's efforts folded into a fit, with what it learned of the squad held fixed."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from sklearn.utils.validation import check_is_fitted

from modeling.answers.answers import Answers
from modeling.answers.response import Response
from modeling.efforts.effort_columns import first_midnight, model_columns
from modeling.efforts.observations import AthleteRows, arrange
from modeling.errors import ModelError
from modeling.estimate import Estimate
from modeling.fit.engine import fold_athlete
from modeling.fit.posterior import Posterior

__all__ = ["Fold", "Folding"]

NORMAL_90 = 1.6449
"""Standard deviations from the middle of a normal distribution to the ends of its central 90 %."""


@dataclass(frozen=True)
class Fold:
    """One athlete's efforts folded into what a fit learned of the squad.

    Attributes
    ----------
    response : Response
    peaks : mapping of Estimate by session
        Expected value at the athlete's peak on that day, with its 90 % interval, in the unit of
        the values.
    residuals_pct : array of shape (n_efforts,)
        Efforts less what the curve expects on their day, in %; higher is better.

    Notes
    -----
    Units: those of `Response`; peaks in the unit of the values.
    Missing values: none.
    Errors: reading it raises nothing.
    Source: the last step of a fit for one athlete, see `modeling.fit.engine.fold_athlete`.
    """

    response: Response
    peaks: Mapping[object, Estimate]
    residuals_pct: NDArray[np.float64]


class Folding(Answers):
    """The part of `ResponseModel` that adds a session between two fits."""

    def fold(self, X: pd.DataFrame, y: ArrayLike) -> Response:
        """Give one athlete's response from all their efforts, with the squad held fixed.

        Use it for a new session between two fits.

        Parameters
        ----------
        X : DataFrame of shape (n_efforts, ...)
            As in `fit`, for one athlete only: the earlier efforts and the new ones.
        y : array-like of shape (n_efforts,)

        Returns
        -------
        Response

        Raises
        ------
        ModelError
            The rows are of more than one athlete, or unusable.
        NotFittedError
            The model is not fitted.
        """
        return self.fold_in(X, y).response

    def fold_in(self, X: pd.DataFrame, y: ArrayLike) -> Fold:
        """Fold as `fold` does, and add how sure the value at the peak of each session is.

        Parameters
        ----------
        X, y : DataFrame and array-like
            As in `fold`.

        Returns
        -------
        Fold

        Raises
        ------
        ModelError
            As `fold` does.
        """
        rows, posterior, effects, sds = self._folded(X, y)
        top, top_sd = posterior.draws.usual_top
        effects, sds = effects + top, np.hypot(sds, top_sd)
        ends = np.sort(self._values(effects + np.outer([-1.0, 0.0, 1.0], NORMAL_90 * sds)), axis=0)
        peaks: dict[object, Estimate] = {
            session: Estimate(float(middle), float(low), float(high))
            for session, (low, middle, high) in zip(rows.sessions, ends.T, strict=True)
        }
        medians = {session: peak.median for session, peak in peaks.items()}
        response = self._respond(posterior, rows.athlete, medians)
        own = posterior.rows or rows
        residual = own.value - effects[own.session_index] - response.curve.log_change(own.volume)
        return Fold(response, peaks, 100.0 * residual)

    def folded_posterior(self, X: pd.DataFrame, y: ArrayLike) -> Posterior:
        """Give one athlete's posterior from all their efforts, with the squad held fixed.

        Parameters
        ----------
        X, y : DataFrame and array-like
            As in `fold`.

        Returns
        -------
        Posterior

        Raises
        ------
        ModelError
            As `fold` does.
        """
        return self._folded(X, y)[1]

    def _folded(
        self, X: pd.DataFrame, y: ArrayLike
    ) -> tuple[AthleteRows, Posterior, NDArray[np.float64], NDArray[np.float64]]:
        check_is_fitted(self, "responses_")
        table = model_columns(X, first_midnight(X))
        rows = self._laid_out(table, y, self.fit_.learned.shared.marks)
        if len(rows) != 1:
            raise ModelError(f"Give the rows of one athlete. Got {len(rows)} athletes.")
        return (rows[0], *fold_athlete(self.fit_, rows[0]))

    def _laid_out(
        self, table: pd.DataFrame, y: ArrayLike, marks: Collection[str] | None = None
    ) -> list[AthleteRows]:
        """Lay efforts out by athlete, with the model's settings for the measure."""
        return arrange(
            table,
            y,
            higher_is_better=self.higher_is_better,
            usual=self.usual_,
            marks=marks,
            effort_rest_seconds=self.effort_rest_seconds,
        )
