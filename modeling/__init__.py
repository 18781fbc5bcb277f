"""Warm-up response models: numbers only, no database and no screen.

A name is loaded when it is asked for: advice from kept curves needs neither scikit-learn nor scipy.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from modeling.answers.response import Curve, Response
    from modeling.answers.response_model import ResponseModel
    from modeling.answers.squad import Squad
    from modeling.curve.curve_draws import CurveDraws
    from modeling.errors import ModelError, SquadGuessWarning
    from modeling.estimate import Estimate

    __version__: str

__all__ = [
    "Curve",
    "CurveDraws",
    "Estimate",
    "ModelError",
    "Response",
    "ResponseModel",
    "Squad",
    "SquadGuessWarning",
]

_MODULES = {
    "Curve": "answers.response",
    "CurveDraws": "curve.curve_draws",
    "Estimate": "estimate",
    "ModelError": "errors",
    "Response": "answers.response",
    "ResponseModel": "answers.response_model",
    "Squad": "answers.squad",
    "SquadGuessWarning": "errors",
}


def __getattr__(name: str) -> object:
    if name == "__version__":
        return import_module("importlib.metadata").version("warmcurve")
    if name in _MODULES:
        return getattr(import_module(f"modeling.{_MODULES[name]}"), name)
    raise AttributeError(f"module 'modeling' has no attribute '{name}'")
