"""Warm-up response models: numbers only, no database and no screen.

A name is loaded when it is asked for: advice from kept curves needs neither scikit-learn nor scipy.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from modeling.curve_draws import CurveDraws
    from modeling.errors import ModelError
    from modeling.estimate import Estimate
    from modeling.response import Curve, Response
    from modeling.response_model import ResponseModel
    from modeling.squad import Squad

__all__ = ["Curve", "CurveDraws", "Estimate", "ModelError", "Response", "ResponseModel", "Squad"]

_MODULES = {
    "Curve": "response",
    "CurveDraws": "curve_draws",
    "Estimate": "estimate",
    "ModelError": "errors",
    "Response": "response",
    "ResponseModel": "response_model",
    "Squad": "squad",
}


def __getattr__(name: str) -> object:
    if name in _MODULES:
        return getattr(import_module(f"modeling.{_MODULES[name]}"), name)
    raise AttributeError(f"module 'modeling' has no attribute '{name}'")
