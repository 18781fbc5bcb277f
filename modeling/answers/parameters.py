"""The parameters of `ResponseModel`: their checks, and the engine's settings from them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import isfinite
from numbers import Integral, Real
from typing import Any

from modeling.curve.families import LEAST_NOISE, LEVEL_PRIOR
from modeling.curve.shapes import ResponseFamily
from modeling.efforts.spots import Misfit
from modeling.errors import ModelError
from modeling.fit.prior import SquadPrior
from modeling.fit.squad_fit import EngineSettings

__all__ = ["FAMILY_METHODS", "UNKNOWN", "check_parameters", "engine_settings"]

UNKNOWN = ("error", "squad")
"""What `predict` can do about athletes that the fit does not know."""

FAMILY_METHODS = ("grid", "basis", "hyperprior", "curves", "gain")
"""Methods that a family of curves must have, see `modeling.curve.shapes.ResponseFamily`."""


def check_parameters(estimator: object) -> None:
    """Refuse an estimator whose parameters make no sense.

    Raises
    ------
    ModelError
        A parameter is not allowed; the message says which, what is allowed and what it got.
    """
    for name, (fine, allowed) in _ALLOWED.items():
        value = getattr(estimator, name)
        if not fine(value):
            raise ModelError(f"{name} must be {allowed}. Got {value!r}.")


def _number(value: object) -> bool:
    return isinstance(value, Real) and not isinstance(value, bool) and isfinite(value)


def _whole(value: object) -> bool:
    return isinstance(value, Integral) and not isinstance(value, bool)


_ALLOWED: Mapping[str, tuple[Callable[[Any], bool], str]] = {
    "standard_volume": (
        lambda value: value is None or (_number(value) and value >= 0),
        "0 or more, or None",
    ),
    "worthwhile_pct": (lambda value: _number(value) and value > 0, "above 0"),
    "effort_rest_seconds": (
        lambda value: value is None or (_number(value) and value >= 0),
        "0 or more, or None",
    ),
    "higher_is_better": (lambda value: value in (True, False), "True or False"),
    "firm_chance": (lambda value: _number(value) and 0.5 < value < 1, "between 0.5 and 1"),
    "family": (
        lambda value: value is None or all(hasattr(value, each) for each in FAMILY_METHODS),
        "a family of curves as in modeling.curve.shapes, or None",
    ),
    "rounds": (lambda value: _whole(value) and value >= 1, "a whole number above 0"),
    "tolerance": (lambda value: _number(value) and value > 0, "above 0"),
    "compute": (
        lambda value: value is None or hasattr(value, "places"),
        "Processes or Cluster of modeling, or None",
    ),
    "prior": (
        lambda value: value is None or isinstance(value, SquadPrior),
        "a SquadPrior from modeling.clubs, or None",
    ),
    "unknown": (lambda value: value in UNKNOWN, " or ".join(map(repr, UNKNOWN))),
}


def engine_settings(estimator: Any, family: ResponseFamily) -> EngineSettings:
    """Turn an estimator's parameters into the engine's settings."""
    return EngineSettings(
        family=family,
        level_prior=LEVEL_PRIOR,
        least_noise=LEAST_NOISE,
        farthest_volume=estimator.standard_volume or 0.0,
        rounds=estimator.rounds,
        tolerance=estimator.tolerance,
        misfit=Misfit(),
        prior=estimator.prior,
    )
