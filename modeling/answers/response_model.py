"""The public estimator: a table of efforts in, every athlete's warm-up response out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Self

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils import Tags
from sklearn.utils.validation import check_is_fitted, validate_data

from modeling.answers.kept_model import KeptModel
from modeling.answers.parameters import check_parameters, engine_settings
from modeling.answers.response import curve_volumes
from modeling.answers.squad import squad_numbers
from modeling.answers.tables import Tables
from modeling.compute.places import Compute, Place, ThisProcess
from modeling.curve.families import FAMILIES
from modeling.curve.shapes import ResponseFamily
from modeling.efforts.effort_columns import first_midnight, model_columns, usable
from modeling.efforts.observations import AthleteRows, most_done, own_readiness, usual_circumstances
from modeling.errors import ModelError
from modeling.fit.engine import fit_usable
from modeling.fit.prior import SquadPrior

__all__ = ["ResponseModel"]


class ResponseModel(Tables, RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """Individual warm-up response curves, learned from a squad's repeated efforts.

    Parameters
    ----------
    standard_volume : float, optional
        What the team does today; calls are made against it. None takes the best single
        volume of the squad.
    worthwhile_pct : float
        Smallest worthwhile change in %.
    effort_rest_seconds : float, optional
        Rest that the measure asks for between two efforts, where a unit of volume is an effort.
        Warmth is lost during any longer rest. None ignores the rests between efforts.
    higher_is_better : bool
        False for times.
    firm_chance : float
        A call needs at least this chance.
    family : ResponseFamily, optional
        The curves; None fits those of `FAMILIES` and takes the one that the squad's data favour.
    rounds : int
        Largest number of rounds of the fit.
    tolerance : float
        The fit stops when no learned size moves by more than this share.
    compute : Compute, optional
        Where to compute: `Processes`, `Cluster`, or any object that opens places like these. None
        computes in this process. The results are the same.
    unknown : {"error", "squad"}
        What `predict` does about athletes that the fit does not know: raise an error, or predict
        them as members of the squad without data.
    prior : SquadPrior, optional
        What other squads teach (`modeling.clubs`); None starts from the prior for any squad.

    Attributes
    ----------
    responses_ : dict
        `Response` of every athlete with data, by code.
    left_out_ : dict
        Reason why an athlete's efforts cannot be fitted, by code. These athletes get the squad's
        curve, as if they had no data.
    squad_ : Squad
        What the fit says about the squad.
    family_ : ResponseFamily
        The family of curves used by the fit.
    fit_ : SquadFit
        The engine's result, with every posterior.
    account_ : Account
        Turns volumes done into volumes in effect; all volumes above are in effect.
    usual_, standard_to_do_ : Circumstances, float
        The squad's usual circumstances, and the standard volume as done in these.
    midnight_ : Timestamp or None
        Day 0, where the efforts say when their sessions began.
    n_features_in_, feature_names_in_ : int, array of shape (n_columns,)
        Columns of the table fitted, and their names.
    readiness_ : dict
        Mean readiness of the athletes who gave any, by code.
    most_done_ : dict
        Largest volume that athletes have done before an effort outside a fade test, by code.

    Notes
    -----
    Values enter as logs, so all effects are in %, and neither the unit of performance nor
    that of volume matters.

    Units: volumes in the measure's volume unit; `to_frame`, `curves`, `length`, `good_range`,
    `worth` and `predict` take and give them as done, all else is in effect; values in the unit of
    y; changes in %, or natural logs where it says so; minutes, degrees Celsius, days.
    Missing values: missing circumstances are taken as the squad's usual ones, a missing rest as
    none; a missing athlete, volume or value is refused.
    Source: `modeling.fit.engine`, which derives the model, names its references and says what it
    costs; the tests check it against simulated squads and published fits.

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
        compute: Compute | None = None,
        unknown: str = "error",
        prior: SquadPrior | None = None,
        effort_rest_seconds: float | None = None,
    ) -> None:
        self.standard_volume = standard_volume
        self.worthwhile_pct = worthwhile_pct
        self.higher_is_better = higher_is_better
        self.firm_chance = firm_chance
        self.family = family
        self.rounds = rounds
        self.tolerance = tolerance
        self.compute = compute
        self.unknown = unknown
        self.prior = prior
        self.effort_rest_seconds = effort_rest_seconds

    def fit(
        self,
        X: pd.DataFrame,  # scikit-learn's name
        y: ArrayLike,
        progress: Callable[[float], None] | None = None,
    ) -> Self:
        """Learn every athlete's response.

        Parameters
        ----------
        X : DataFrame of shape (n_efforts, ...)
            Columns athlete, session, volume and, if known, day, context and the facts of
            `checked_efforts.FACTS`, which enter the warm-up account and the level; other columns
            are ignored. An efforts file can be given as it is: started_at stands for session, day
            and hour, volume_before for volume, freshness for readiness, and rows with a reason in
            excluded are left out.
        y : array-like of shape (n_efforts,)
            Values above 0. Missing values are refused: leave such rows out, or give a reason in
            excluded.
        progress : callable, optional
            Called with the share done.

        Returns
        -------
        ResponseModel
            Itself.

        Raises
        ------
        ModelError
            The rows or the parameters are not usable; the message says which and why.
        """
        check_parameters(self)
        if y is None:
            told = "ResponseModel requires y to be passed, but the target y is None."
            raise ModelError(f"{told} Give the value of each effort.")
        self.midnight_ = first_midnight(X)
        validate_data(self, X, skip_check_array=True)
        table = model_columns(X, self.midnight_)
        used = table[usable(table)]
        self.usual_ = usual_circumstances(used)
        self.readiness_ = own_readiness(used)
        self.most_done_ = most_done(used)
        rows = self._laid_out(table, y)
        with (self.compute or ThisProcess()).places() as places:
            self._fit_at(places, rows, progress)
        self.fit_ = replace(self.fit_, held=None)
        return self

    def _fit_at(
        self,
        places: Sequence[Place],
        rows: list[AthleteRows],
        progress: Callable[[float], None] | None,
    ) -> None:
        """Fit, and work out all that needs every posterior while they are at their places."""
        families = list(FAMILIES.values()) if self.family is None else [self.family]
        settings = engine_settings(self, families[0])
        self.fit_, self.left_out_ = fit_usable(rows, settings, progress, families[1:], places)
        self.family_ = next(each for each in families if each == self.fit_.settings.family)
        self.account_ = self.fit_.learned.shared.account
        set_to = self.standard_volume
        standard = None if set_to is None else float(self.usual_volumes.in_effect(set_to))
        self.volume_ = curve_volumes(self.fit_, standard)
        self.squad_ = squad_numbers(
            self.fit_,
            volume=self.volume_,
            standard_volume=standard,
            worthwhile_pct=self.worthwhile_pct,
        )
        self.standard_volume_: float = self.squad_.standard_volume
        self.standard_to_do_ = self._standard_to_do()
        listed = self._respond_all()
        self.responses_ = {response.athlete: response for response in listed}

    def score(self, X: pd.DataFrame, y: ArrayLike, sample_weight: ArrayLike | None = None) -> float:
        """Give the share of the variance in the values that predictions explain (R²), at most 1.

        Parameters
        ----------
        X, y : DataFrame and array-like
            As in `fit`; rows with a reason in excluded are left out.
        sample_weight : array-like of shape (n_rows,), optional

        Returns
        -------
        float

        Raises
        ------
        ModelError
            As `predict` does.
        """
        used = usable(X) if isinstance(X, pd.DataFrame) else slice(None)
        weight = None if sample_weight is None else np.asarray(sample_weight)[used]
        return float(super().score(X[used], np.asarray(y)[used], weight))

    def __sklearn_tags__(self) -> Tags:
        tags = super().__sklearn_tags__()
        tags.input_tags.string = tags.input_tags.categorical = tags.input_tags.allow_nan = True
        tags.target_tags.required = tags.target_tags.positive_only = True
        return tags

    def _standard_to_do(self) -> float:
        """Give the standard volume as done; if none is set, the best single one in whole units."""
        if self.standard_volume is not None:
            return self.standard_volume
        return float(np.round(self.usual_volumes.to_do(self.standard_volume_)))

    def learned_json(self) -> str:
        """Write what the fit learned of the squad, with the parameters; nothing about any athlete.

        It works only for the families that come with the model.

        Returns
        -------
        str
            For `from_learned`.

        Raises
        ------
        NotFittedError
            The model is not fitted.
        """
        check_is_fitted(self, "responses_")
        return KeptModel.of(self).json()

    @classmethod
    def from_learned(cls, text: str) -> Self:
        """Read what `learned_json` wrote: a model that can `fold` but knows no athlete.

        Parameters
        ----------
        text : str

        Returns
        -------
        ResponseModel

        Raises
        ------
        ModelError
            Another version of the model wrote it.
        """
        try:
            kept = KeptModel.read(text)
            model = cls(**kept.parameters)
            kept.put_into(model)
            model.standard_to_do_ = model._standard_to_do()
        except (KeyError, TypeError, ValueError) as error:
            raise ModelError(
                "This fit was saved by another version. Work the curves out again."
            ) from error
        model.midnight_ = None
        model.readiness_, model.most_done_, model.responses_, model.left_out_ = {}, {}, {}, {}
        return model
