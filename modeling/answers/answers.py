"""What a fitted model answers about the squad's athletes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from sklearn.utils.validation import check_is_fitted

from modeling.answers.response import Response, respond
from modeling.curve.account import Account, Circumstances
from modeling.curve.curve_draws import ADVICE_DRAWS, CurveDraws
from modeling.curve.length import Needs
from modeling.curve.shapes import ResponseFamily
from modeling.efforts.observations import arrange
from modeling.errors import ModelError
from modeling.estimate import Estimate
from modeling.fit.drawn import CURVES, evenly
from modeling.fit.engine import fold_athlete
from modeling.fit.posterior import Posterior
from modeling.fit.squad_fit import SquadFit

__all__ = ["Answers", "Fold"]

NORMAL_90 = 1.6449
"""Standard deviations from the middle to either end of a normal's central 90 %."""


@dataclass(frozen=True)
class Fold:
    """One athlete's efforts folded into what a fit learned of the squad.

    Attributes
    ----------
    response : Response
    peaks : mapping of Estimate by session
        What the athlete would show at the peak on that day, with its 90 % interval, in the unit
        of the values.
    residuals_pct : array of shape (n_efforts,)
        Efforts less what the curve expects on their day, in %, higher is better.
    """

    response: Response
    peaks: Mapping[object, Estimate]
    residuals_pct: NDArray[np.float64]


class Answers:
    """The part of `ResponseModel` that reads a fit, and whose attributes these are."""

    worthwhile_pct: float
    higher_is_better: bool
    firm_chance: float
    responses_: dict[object, Response]
    levels_: dict[object, float]
    family_: ResponseFamily
    fit_: SquadFit
    account_: Account
    usual_: Circumstances
    volume_: NDArray[np.float64]
    standard_volume_: float
    standard_to_do_: float

    def _values(self, logs: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.exp(logs if self.higher_is_better else -logs)

    def _respond(
        self, posterior: Posterior, athlete: object, session_peaks: Mapping[object, float]
    ) -> Response:
        return respond(
            self.fit_,
            posterior,
            self.family_,
            athlete=athlete,
            volume=self.volume_,
            standard_volume=self.standard_volume_,
            worthwhile_pct=self.worthwhile_pct,
            firm_chance=self.firm_chance,
            session_peaks=session_peaks,
        )

    def _respond_all(self) -> list[Response]:
        listed = []
        for posterior, effects in zip(self.fit_.posteriors, self.fit_.session_effects, strict=True):
            rows = posterior.rows
            if rows is None:
                continue
            at_peak = self._values(effects + posterior.draws.usual_top[0])
            peaks = dict(zip(rows.sessions, at_peak.tolist(), strict=True))
            listed.append(self._respond(posterior, rows.athlete, peaks))
        return listed

    def sample_curves(
        self, athlete: object, volume: ArrayLike, curves: int = 400
    ) -> NDArray[np.float64]:
        """Take curves at even steps of an athlete's posterior: the same every time.

        Parameters
        ----------
        athlete : object
            A code; one without data gets the squad's distribution.
        volume : array-like of shape (n_volumes,)
        curves : int

        Returns
        -------
        array of shape (n_volumes, curves)
            Log performance against the athlete's own peak, 0 or less.
        """
        check_is_fitted(self, "responses_")
        if not 1 <= curves <= CURVES:
            raise ModelError(f"curves must be between 1 and {CURVES}. Got {curves}.")
        points = np.asarray(volume, dtype=float)
        drawn = self.fit_.curves(self.posterior(athlete), points)
        return drawn[:, evenly(curves)]

    def draws(self, athlete: object) -> CurveDraws:
        """Give what advice about an athlete is worked out from; without data, the squad's."""
        response = self.response(athlete)
        return CurveDraws(
            athlete=athlete,
            sessions=response.sessions,
            efforts=response.efforts,
            volume=self.volume_,
            change=self.sample_curves(athlete, self.volume_, ADVICE_DRAWS),
            account=self.account_,
            usual=self.usual_,
            needs=self.needs(response),
            worthwhile_pct=self.worthwhile_pct,
        )

    def needs(self, response: Response) -> Needs:
        """Say what a response means for how much is done in the usual circumstances."""

        def to_do(*in_effect: float) -> NDArray[np.float64]:
            return np.maximum(self.account_.volume_to_do(np.array(in_effect), self.usual_), 0.0)

        good = response.good_range
        return Needs(
            standard_volume=self.standard_to_do_,
            call=response.call,
            advised_volume=float(to_do(response.advised_volume)[0]),
            good_range=None if good is None else (float(to_do(*good)[0]), float(to_do(*good)[1])),
        )

    def posterior(self, athlete: object) -> Posterior:
        """Give one athlete's posterior; without data, that of the squad."""
        for posterior in self.fit_.posteriors:
            if posterior.rows is not None and posterior.rows.athlete == athlete:
                return posterior
        return self.fit_.prior_posterior()

    def response(self, athlete: object) -> Response:
        """Give one athlete's response; without data, the squad's curve with its full spread."""
        check_is_fitted(self, "responses_")
        if athlete in self.responses_:
            return self.responses_[athlete]
        return self._respond(self.fit_.prior_posterior(), athlete, {})

    def fold(self, X: pd.DataFrame, y: ArrayLike) -> Response:
        """Give the response of one athlete from all their efforts, the squad held fixed.

        For a new session between two fits; `X` and `y` as in `fit`, one athlete only.

        Raises
        ------
        ModelError
            Rows of more than one athlete, or unusable rows.
        """
        return self.fold_in(X, y).response

    def fold_in(self, X: pd.DataFrame, y: ArrayLike) -> Fold:
        """Fold as `fold` does, and say how sure the value at the peak of each session is."""
        check_is_fitted(self, "responses_")
        rows = arrange(X, y, higher_is_better=self.higher_is_better, usual=self.usual_)
        if len(rows) != 1:
            raise ModelError(f"Give the rows of one athlete. Got {len(rows)} athletes.")
        posterior, effects, sds = fold_athlete(self.fit_, rows[0])
        top, top_sd = posterior.draws.usual_top
        effects, sds = effects + top, np.hypot(sds, top_sd)
        ends = np.sort(self._values(effects + np.outer([-1.0, 0.0, 1.0], NORMAL_90 * sds)), axis=0)
        peaks: dict[object, Estimate] = {
            session: Estimate(float(middle), float(low), float(high))
            for session, (low, middle, high) in zip(rows[0].sessions, ends.T, strict=True)
        }
        medians = {session: peak.median for session, peak in peaks.items()}
        response = self._respond(posterior, rows[0].athlete, medians)
        own = posterior.rows or rows[0]
        residual = own.value - effects[own.session_index] - response.curve.log_change(own.volume)
        return Fold(response, peaks, 100.0 * residual)

    def predict(self, X: pd.DataFrame) -> NDArray[np.float64]:
        """Predict the value on an average day for rows with athlete and volume.

        An athlete without data gets the squad's mean level and curve. Returns an array of
        shape (n_rows,), in the unit of the values fitted.
        """
        check_is_fitted(self, "responses_")
        expected = np.empty(len(X))
        volume = X["volume"].to_numpy(dtype=float)
        codes = X["athlete"].to_numpy()
        for code in pd.unique(codes):
            here = codes == code
            change = self.response(code).curve.log_change(volume[here])
            level = self.levels_.get(code, self.fit_.learned.level_mean)
            expected[here] = self._values(level + change)
        return expected
