"""The public estimator: a table of efforts in, every athlete's warm-up response out."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from typing import Self

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from sklearn.base import BaseEstimator
from sklearn.utils.validation import check_is_fitted

from modeling.answers.response import Response, curve_volumes, respond
from modeling.answers.squad import squad_numbers
from modeling.curve.account import Circumstances
from modeling.curve.curve_draws import ADVICE_DRAWS, CurveDraws
from modeling.curve.length import Needs
from modeling.curve.rise_and_fall import RiseAndFall
from modeling.curve.shapes import DataRange, Hyperprior, ResponseFamily
from modeling.curve.smooth_curve import SmoothRiseAndFall
from modeling.efforts.observations import AthleteRows, arrange, usual_circumstances
from modeling.efforts.spots import Misfit
from modeling.errors import AthleteError, ModelError
from modeling.estimate import Estimate
from modeling.fit.drawn import CURVES, evenly
from modeling.fit.engine import fit_squad, fold_athlete
from modeling.fit.learned import Learned, plain, read_plain
from modeling.fit.posterior import Posterior
from modeling.fit.squad_fit import EngineSettings, SquadFit

__all__ = ["ResponseModel"]

LEVEL_PRIOR = Hyperprior(np.zeros(1), np.full(1, 20.0), np.full((1, 1), 0.15**2), 1.0)
"""Athletes' levels differ by some 15 % (weight of one athlete); their mean may be anything."""

FAMILIES: Mapping[str, ResponseFamily] = {
    "a shape on either side": RiseAndFall(),
    "one smooth curve": SmoothRiseAndFall(),
}
"""The curves that a squad is fitted with unless others are given, the wider first; its evidence
decides."""

KEPT_PARAMETERS = (
    "standard_volume worthwhile_pct higher_is_better firm_chance rounds tolerance"
).split()

NORMAL_90 = 1.6449
"""Standard deviations from the middle to either end of a normal's central 90 %."""

LEAST_NOISE = 5e-4
"""0.05 % of the value: finer than any test here is read (1 ms in a 2 s sprint)."""


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


class ResponseModel(BaseEstimator):  # type: ignore[misc]
    """Individual warm-up response curves, learned from a squad's repeated efforts.

    Parameters
    ----------
    standard_volume : float, optional
        What the team does today; calls are made against it. None takes the best single
        volume of the squad.
    worthwhile_pct : float
        Smallest worthwhile change in %.
    higher_is_better : bool
        False for times.
    firm_chance : float
        A call needs at least this chance.
    family : ResponseFamily, optional
        The curves; None fits those of `FAMILIES` and keeps the one that the squad's data favour.
    rounds : int
        Most rounds of the fit.
    tolerance : float
        The fit stops when no learned size moves by more than this share.
    n_jobs : int, optional
        Athletes done side by side, in joblib's sense: None is one unless
        `joblib.parallel_config` says otherwise, -1 all processors. Threads by default.

    Attributes
    ----------
    responses_ : dict
        `Response` of every athlete with data, by code.
    left_out_ : dict
        Why an athlete was left out, by code: their efforts cannot be fitted. They get the squad's
        curve, as athletes without data do.
    squad_ : Squad
        What the fit says about the squad.
    family_ : ResponseFamily
        The curves that the fit is made of.
    fit_ : SquadFit
        The engine's result, with every posterior.
    account_ : Account
        What makes the volume in effect of what was done; all volumes above are in effect.
    usual_ : Circumstances
        The squad's usual circumstances, in which the standard volume is done.
    standard_to_do_ : float
        The standard volume as it is done in these.

    Notes
    -----
    Values enter as logs, so all effects are in %, and neither the unit of performance nor
    that of volume matters. See `engine` for the model and its weak points.

    Examples
    --------
    >>> import numpy as np, pandas as pd
    >>> from modeling import ResponseModel
    >>> from modeling.testing.simulation import Noise, Protocol, simulate_squad, simulated_truths
    >>> rng = np.random.default_rng(1)
    >>> squad = simulate_squad(simulated_truths("Ricker", 6, rng), Protocol(), Noise(), rng)
    >>> model = ResponseModel(standard_volume=15).fit(squad, squad["value"])
    >>> sorted(model.responses_) == sorted(squad["athlete"].unique())
    True
    """

    def __init__(
        self,
        *,
        standard_volume: float | None = None,
        worthwhile_pct: float = 1.0,
        higher_is_better: bool = True,
        firm_chance: float = 0.8,
        family: ResponseFamily | None = None,
        rounds: int = 12,
        tolerance: float = 0.01,
        n_jobs: int | None = None,
    ) -> None:
        self.standard_volume = standard_volume
        self.worthwhile_pct = worthwhile_pct
        self.higher_is_better = higher_is_better
        self.firm_chance = firm_chance
        self.family = family
        self.rounds = rounds
        self.tolerance = tolerance
        self.n_jobs = n_jobs

    def fit(
        self,
        X: pd.DataFrame,  # noqa: N803 - scikit-learn's name
        y: ArrayLike,
        progress: Callable[[float], None] | None = None,
    ) -> Self:
        """Learn every athlete's response.

        Parameters
        ----------
        X : DataFrame of shape (n_efforts, ...)
            Columns athlete, session, volume and, if known, day, context and the facts of
            `observations.FACTS`, which enter the warm-up account and the level; other columns
            are ignored.
        y : array-like of shape (n_efforts,)
            Values above 0. Missing values are refused: leave such rows out.
        progress : callable, optional
            Called with the share done.

        Raises
        ------
        ModelError
            The rows or the parameters are not usable; the message says which and why.
        """
        self._check_parameters()
        self.usual_ = usual_circumstances(X)
        rows = arrange(X, y, higher_is_better=self.higher_is_better, usual=self.usual_)
        families = list(FAMILIES.values()) if self.family is None else [self.family]
        self.fit_ = self._fit_usable(rows, families, progress)
        self.family_ = next(each for each in families if each == self.fit_.settings.family)
        self.account_ = self.fit_.learned.shared.account
        standard = self._standard_in_effect()
        self.volume_ = curve_volumes(self.fit_, standard)
        self.levels_ = {
            posterior.rows.athlete: float(effects.mean() + posterior.draws.top.mean())
            for posterior, effects in zip(
                self.fit_.posteriors, self.fit_.session_effects, strict=True
            )
            if posterior.rows is not None
        }
        self.squad_ = squad_numbers(
            self.fit_,
            volume=self.volume_,
            standard_volume=standard,
            worthwhile_pct=self.worthwhile_pct,
        )
        self.standard_volume_: float = self.squad_.standard_volume
        self.standard_to_do_ = self._standard_to_do()
        listed = self._respond_all(self.standard_volume_)
        self.responses_ = {response.athlete: response for response in listed}
        return self

    def _fit_usable(
        self,
        rows: list[AthleteRows],
        families: list[ResponseFamily],
        progress: Callable[[float], None] | None,
    ) -> SquadFit:
        """Fit the squad; who cannot be fitted is left out by name, and the others are fitted."""
        first, *others = families
        self.left_out_: dict[object, str] = {}
        while True:
            try:
                return fit_squad(rows, self._settings(first), progress, self.n_jobs, others)
            except AthleteError as error:
                self.left_out_[error.athlete] = str(error)
                rows = [each for each in rows if each.athlete != error.athlete]
                if not rows:
                    raise

    def _standard_in_effect(self) -> float | None:
        """Say what the standard counts for in the squad's usual circumstances."""
        if self.standard_volume is None:
            return None
        done = np.array([self.standard_volume])
        return float(self.account_.volume_in_effect(done, self.usual_)[0])

    def _standard_to_do(self) -> float:
        """Say what is done for the standard; a best single volume, none set, in whole units."""
        if self.standard_volume is not None:
            return self.standard_volume
        to_do = self.account_.volume_to_do(np.array([self.standard_volume_]), self.usual_)
        return float(max(np.round(to_do[0]), 0.0))

    def _settings(self, family: ResponseFamily) -> EngineSettings:
        return EngineSettings(
            family=family,
            level_prior=LEVEL_PRIOR,
            least_noise=LEAST_NOISE,
            farthest_volume=self.standard_volume or 0.0,
            rounds=self.rounds,
            tolerance=self.tolerance,
            misfit=Misfit(),
        )

    def learned_json(self) -> str:
        """Write what the fit learned of the squad, with the parameters; nothing of an athlete.

        Only for the family that comes with the model.
        """
        check_is_fitted(self, "responses_")
        facts = {
            "parameters": {name: getattr(self, name) for name in KEPT_PARAMETERS},
            "volume": self.volume_.tolist(),
            "standard_volume": self.standard_volume_,
            "usual": asdict(self.usual_),
            "family": next(name for name, each in FAMILIES.items() if each == self.family_),
            "data": plain(self.fit_.data),
            "learned": plain(self.fit_.learned),
        }
        return json.dumps(facts)

    @classmethod
    def from_learned(cls, text: str) -> Self:
        """Read what `learned_json` wrote: a model that can `fold`, and knows no athlete.

        Raises
        ------
        ModelError
            If another version of the model wrote it.
        """
        try:
            facts = json.loads(text)
            model = cls(**facts["parameters"])
            data = read_plain(DataRange, facts["data"])
            learned = read_plain(Learned, facts["learned"])
            model.family_ = FAMILIES[facts["family"]]
            settings = model._settings(model.family_)
            model.fit_ = SquadFit(settings, data, learned, (), (), rounds=0)
            model.volume_ = np.asarray(facts["volume"], dtype=float)
            model.standard_volume_ = float(facts["standard_volume"])
            model.usual_ = Circumstances(**facts["usual"])
            model.account_ = learned.shared.account
            model.standard_to_do_ = model._standard_to_do()
        except (KeyError, TypeError, ValueError) as error:
            raise ModelError(
                "What this fit learned was kept by another version. Work the curves out again."
            ) from error
        model.levels_, model.responses_ = {}, {}
        return model

    def _check_parameters(self) -> None:
        if self.standard_volume is not None and not self.standard_volume >= 0:
            raise ModelError(
                f"standard_volume must be 0 or more, or None. Got {self.standard_volume}."
            )
        if not self.worthwhile_pct > 0:
            raise ModelError(f"worthwhile_pct must be above 0. Got {self.worthwhile_pct}.")
        if not 0.5 < self.firm_chance < 1:
            raise ModelError(f"firm_chance must be between 0.5 and 1. Got {self.firm_chance}.")

    def _values(self, logs: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.exp(logs if self.higher_is_better else -logs)

    def _respond_all(self, standard_volume: float) -> list[Response]:
        listed = []
        for posterior, effects in zip(self.fit_.posteriors, self.fit_.session_effects, strict=True):
            rows = posterior.rows
            if rows is None:
                continue
            at_peak = self._values(effects + posterior.draws.top.mean())
            peaks = dict(zip(rows.sessions, at_peak.tolist(), strict=True))
            listed.append(
                respond(
                    self.fit_,
                    posterior,
                    self.family_,
                    athlete=rows.athlete,
                    volume=self.volume_,
                    standard_volume=standard_volume,
                    worthwhile_pct=self.worthwhile_pct,
                    firm_chance=self.firm_chance,
                    session_peaks=peaks,
                )
            )
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
        return respond(
            self.fit_,
            self.fit_.prior_posterior(),
            self.family_,
            athlete=athlete,
            volume=self.volume_,
            standard_volume=self.standard_volume_,
            worthwhile_pct=self.worthwhile_pct,
            firm_chance=self.firm_chance,
            session_peaks={},
        )

    def fold(self, X: pd.DataFrame, y: ArrayLike) -> Response:  # noqa: N803
        """Give the response of one athlete from all their efforts, the squad held fixed.

        For a new session between two fits; `X` and `y` as in `fit`, one athlete only.

        Raises
        ------
        ModelError
            Rows of more than one athlete, or unusable rows.
        """
        return self.fold_in(X, y).response

    def fold_in(self, X: pd.DataFrame, y: ArrayLike) -> Fold:  # noqa: N803
        """Fold as `fold` does, and say how sure the value at the peak of each session is."""
        check_is_fitted(self, "responses_")
        rows = arrange(X, y, higher_is_better=self.higher_is_better, usual=self.usual_)
        if len(rows) != 1:
            raise ModelError(f"Give the rows of one athlete. Got {len(rows)} athletes.")
        posterior, effects, sds = fold_athlete(self.fit_, rows[0])
        top = posterior.draws.top
        effects, sds = effects + top.mean(), np.hypot(sds, top.std())
        ends = np.sort(self._values(effects + np.outer([-1.0, 0.0, 1.0], NORMAL_90 * sds)), axis=0)
        peaks: dict[object, Estimate] = {
            session: Estimate(float(middle), float(low), float(high))
            for session, (low, middle, high) in zip(rows[0].sessions, ends.T, strict=True)
        }
        response = respond(
            self.fit_,
            posterior,
            self.family_,
            athlete=rows[0].athlete,
            volume=self.volume_,
            standard_volume=self.standard_volume_,
            worthwhile_pct=self.worthwhile_pct,
            firm_chance=self.firm_chance,
            session_peaks={session: peak.median for session, peak in peaks.items()},
        )
        own = posterior.rows or rows[0]
        residual = own.value - effects[own.session_index] - response.curve.log_change(own.volume)
        return Fold(response, peaks, 100.0 * residual)

    def predict(self, X: pd.DataFrame) -> NDArray[np.float64]:  # noqa: N803
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
