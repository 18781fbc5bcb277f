"""What a fitted model answers about the squad's athletes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import overload

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from sklearn.utils.validation import check_is_fitted

from modeling.answers.asked_rows import asked_rows, check_known, warn_of_guesses
from modeling.answers.prediction import COLUMNS, TURNED, predict_rows
from modeling.answers.response import Response, respond
from modeling.curve.account import Account, Circumstances
from modeling.curve.curve_draws import ADVICE_DRAWS, CurveDraws
from modeling.curve.length import Needs
from modeling.curve.shapes import ResponseFamily
from modeling.curve.usual_volumes import UsualVolumes
from modeling.efforts.effort_columns import first_midnight, model_columns
from modeling.efforts.observations import AthleteRows, arrange
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
    midnight_: pd.Timestamp | None
    readiness_: Mapping[object, float]
    family_: ResponseFamily
    fit_: SquadFit
    account_: Account
    usual_: Circumstances
    volume_: NDArray[np.float64]
    standard_volume_: float
    standard_to_do_: float
    left_out_: Mapping[object, str]
    unknown: str

    @property
    def usual_volumes(self) -> UsualVolumes:
        """What turns volumes in effect into volumes done in the usual circumstances, and back."""
        check_is_fitted(self, "account_")
        return UsualVolumes(self.account_, self.usual_)

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
        to_do, good = self.usual_volumes.to_do, response.good_range
        return Needs(
            standard_volume=self.standard_to_do_,
            call=response.call,
            advised_volume=float(to_do(response.advised_volume)),
            good_range=None if good is None else (float(to_do(good[0])), float(to_do(good[1]))),
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
        """Give the posterior of one athlete from all their efforts; `X` and `y` as in `fold`."""
        return self._folded(X, y)[1]

    def _folded(
        self, X: pd.DataFrame, y: ArrayLike
    ) -> tuple[AthleteRows, Posterior, NDArray[np.float64], NDArray[np.float64]]:
        check_is_fitted(self, "responses_")
        rows = arrange(
            model_columns(X, first_midnight(X)),
            y,
            higher_is_better=self.higher_is_better,
            usual=self.usual_,
            marks=self.fit_.learned.shared.marks,
        )
        if len(rows) != 1:
            raise ModelError(f"Give the rows of one athlete. Got {len(rows)} athletes.")
        return (rows[0], *fold_athlete(self.fit_, rows[0]))

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
            without a column is the squad's usual one, so volumes are then as done in these; an
            empty cell means what it means in `fit`. Rows without a session are one each: all of
            their volume is done before the rest. Rows without a day are predicted for the mean
            over the days of the athlete's sessions.
        interval : float, optional
            Share that intervals are to hold, such as 0.9.

        Returns
        -------
        array of shape (n_rows,) or DataFrame
            Values in the unit of those fitted. With `interval` the columns of
            `prediction.COLUMNS`, in the order and with the index of the rows.

        Raises
        ------
        ModelError
            An athlete is unknown (see the parameter), a column is missing, or rows are unusable.

        Warns
        -----
        SquadGuessWarning
            Volumes are larger than any that the athlete has tried: it says from where on a
            prediction is the squad's guess.

        Notes
        -----
        Intervals allow for what is not known of the athlete's curve and level and of the effects
        that all share; noise sizes are taken as found.
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
        )
        if self.unknown == "error":
            check_known((rows.athlete for rows in asked), {**self.responses_, **self.left_out_})
        posteriors = [self.posterior(rows.athlete) for rows in asked]
        tried = [self._tried(posterior) for posterior in posteriors]
        warn_of_guesses(zip(asked, tried, strict=True), self.usual_volumes, stacklevel=2)
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

    def _tried(self, posterior: Posterior) -> float:
        """Largest volume in effect that an athlete has tried; without data, that anybody has."""
        rows = posterior.rows
        return self.fit_.data.highest_volume if rows is None else float(rows.volume.max())
