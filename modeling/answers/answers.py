"""Answers about the squad's athletes from a fitted model."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from sklearn.utils.validation import check_is_fitted

from modeling.answers.response import Asked, Response, respond
from modeling.curve.account import Account, Circumstances
from modeling.curve.curve_draws import ADVICE_DRAWS, CurveDraws
from modeling.curve.length import Needs
from modeling.curve.shapes import ResponseFamily
from modeling.curve.usual_volumes import UsualVolumes
from modeling.efforts.observations import AthleteRows
from modeling.errors import ModelError
from modeling.fit.drawn import CURVES, evenly
from modeling.fit.posterior import Posterior
from modeling.fit.squad_fit import SquadFit

FARTHEST = 700.0
"""Logs of values are clipped here: with mixed-up units a value could overflow."""

__all__ = ["Answers"]


class Answers:
    """The part of `ResponseModel` that reads a fit; the attributes are those of `ResponseModel`."""

    worthwhile_pct: float
    higher_is_better: bool
    firm_chance: float
    effort_rest_seconds: float | None
    responses_: dict[object, Response]
    family_: ResponseFamily
    fit_: SquadFit
    account_: Account
    usual_: Circumstances
    volume_: NDArray[np.float64]
    standard_volume_: float
    standard_to_do_: float

    @property
    def usual_volumes(self) -> UsualVolumes:
        """Converter between volumes in effect and volumes done in the usual circumstances.

        Raises
        ------
        NotFittedError
            The model is not fitted.
        """
        check_is_fitted(self, "account_")
        return UsualVolumes(self.account_, self.usual_)

    def _values(self, logs: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.exp(np.clip(logs if self.higher_is_better else -logs, -FARTHEST, FARTHEST))

    @property
    def _asked(self) -> Asked:
        return Asked(
            volume=self.volume_,
            standard_volume=self.standard_volume_,
            worthwhile_pct=self.worthwhile_pct,
            firm_chance=self.firm_chance,
        )

    def _respond(
        self, posterior: Posterior, athlete: object, session_peaks: Mapping[object, float]
    ) -> Response:
        found = respond(self.fit_, posterior, self._asked)
        return replace(found, athlete=athlete, session_peaks=session_peaks)

    def _respond_all(self) -> list[Response]:
        tops = self.fit_.each(_usual_top)
        listed = self.fit_.each(respond, self._asked)
        told = zip(self.fit_.rows, self.fit_.session_effects, tops, listed, strict=True)
        return [
            replace(response, session_peaks=self._session_peaks(rows, effects + top))
            for rows, effects, top, response in told
        ]

    def _session_peaks(
        self, rows: AthleteRows, logs: NDArray[np.float64]
    ) -> Mapping[object, float]:
        return dict(zip(rows.sessions, self._values(logs).tolist(), strict=True))

    def sample_curves(
        self, athlete: object, volume: ArrayLike, curves: int = 400
    ) -> NDArray[np.float64]:
        """Take curves at even steps of an athlete's posterior, the same ones every time.

        Parameters
        ----------
        athlete : object
            A code; one without data gets the squad's distribution.
        volume : array-like of shape (n_volumes,)
            In effect, 0 or more.
        curves : int
            Number of curves, 1 to 500.

        Returns
        -------
        array of shape (n_volumes, curves)
            Log performance against the athlete's own peak, 0 or less.

        Raises
        ------
        ModelError
            The number of curves is not between 1 and 500.
        NotFittedError
            The model is not fitted.
        """
        check_is_fitted(self, "responses_")
        if not 1 <= curves <= CURVES:
            raise ModelError(f"curves must be between 1 and {CURVES}. Got {curves}.")
        points = np.asarray(volume, dtype=float)
        drawn = self.fit_.curves(self.posterior(athlete), points)
        return drawn[:, evenly(curves)]

    def draws(self, athlete: object) -> CurveDraws:
        """Give the curves and facts that advice for an athlete is worked out from.

        Parameters
        ----------
        athlete : object
            A code; one without data gets the squad's distribution.

        Returns
        -------
        CurveDraws

        Raises
        ------
        NotFittedError
            The model is not fitted.
        """
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
        """Turn a response into volumes to do in the usual circumstances.

        Parameters
        ----------
        response : Response

        Returns
        -------
        Needs
            Volumes as done.

        Raises
        ------
        NotFittedError
            The model is not fitted.
        """
        to_do, good = self.usual_volumes.to_do, response.good_range
        return Needs(
            standard_volume=self.standard_to_do_,
            call=response.call,
            advised_volume=float(to_do(response.advised_volume)),
            good_range=None if good is None else (float(to_do(good[0])), float(to_do(good[1]))),
        )

    def posterior(self, athlete: object) -> Posterior:
        """Give one athlete's posterior.

        Parameters
        ----------
        athlete : object
            A code; one without data gets the squad's distribution.

        Returns
        -------
        Posterior

        Raises
        ------
        NotFittedError
            The model is not fitted.
        """
        check_is_fitted(self, "fit_")
        for place, rows in enumerate(self.fit_.rows):
            if rows.athlete == athlete:
                return self.fit_.posteriors[place]
        return self.fit_.prior_posterior()

    def response(self, athlete: object) -> Response:
        """Give one athlete's response.

        Parameters
        ----------
        athlete : object
            A code; one without data gets the squad's curve with its full spread.

        Returns
        -------
        Response

        Raises
        ------
        NotFittedError
            The model is not fitted.
        """
        check_is_fitted(self, "responses_")
        if athlete in self.responses_:
            return self.responses_[athlete]
        return self._respond(self.fit_.prior_posterior(), athlete, {})


def _usual_top(_: SquadFit, posterior: Posterior) -> float:
    return posterior.draws.usual_top[0]
