"""The parameters of `ResponseModel`, checked when it is fitted."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import isfinite
from numbers import Integral, Real
from typing import Any

from modeling.errors import ModelError

__all__ = ["FAMILY_METHODS", "UNKNOWN", "check_parameters"]

UNKNOWN = ("error", "squad")
"""What is done about athletes whom a fit does not know."""

FAMILY_METHODS = ("grid", "basis", "hyperprior", "curves", "gain")
"""What a family of curves answers, see `modeling.curve.shapes.ResponseFamily`."""


def check_parameters(estimator: object) -> None:
    """Refuse an estimator whose parameters make no sense.

    Raises
    ------
    ModelError
        It says which parameter, what is allowed and what was found.
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
    "higher_is_better": (lambda value: value in (True, False), "True or False"),
    "firm_chance": (lambda value: _number(value) and 0.5 < value < 1, "between 0.5 and 1"),
    "family": (
        lambda value: value is None or all(hasattr(value, each) for each in FAMILY_METHODS),
        "a family of curves as in modeling.curve.shapes, or None",
    ),
    "rounds": (lambda value: _whole(value) and value >= 1, "a whole number above 0"),
    "tolerance": (lambda value: _number(value) and value > 0, "above 0"),
    "n_jobs": (
        lambda value: value is None or (_whole(value) and value != 0),
        "a whole number other than 0, or None",
    ),
    "unknown": (lambda value: value in UNKNOWN, " or ".join(map(repr, UNKNOWN))),
}
