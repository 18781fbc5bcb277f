"""Warm-up response models: numbers only, no database and no screen.

Names are loaded on first use: advice from saved curves needs neither scikit-learn nor scipy.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from modeling.answers.folding import Fold
    from modeling.answers.response import Curve, Response
    from modeling.answers.response_model import ResponseModel
    from modeling.answers.squad import Squad
    from modeling.answers.worth import Worth
    from modeling.compute.cluster import Cluster
    from modeling.compute.processes import Processes
    from modeling.curve.account import Circumstances
    from modeling.curve.curve_draws import CurveDraws
    from modeling.curve.length import Length, Limits
    from modeling.day.next_test import NextTest, next_test, next_tests
    from modeling.errors import ModelError, SquadGuessWarning
    from modeling.estimate import Estimate
    from modeling.testing.simulated_tests import HowFar

    __version__: str

__all__ = [
    "Circumstances",
    "Cluster",
    "Curve",
    "CurveDraws",
    "Estimate",
    "Fold",
    "HowFar",
    "Length",
    "Limits",
    "ModelError",
    "NextTest",
    "Processes",
    "Response",
    "ResponseModel",
    "Squad",
    "SquadGuessWarning",
    "Worth",
    "next_test",
    "next_tests",
]

_MODULES = {
    "Circumstances": "curve.account",
    "Cluster": "compute.cluster",
    "Curve": "answers.response",
    "CurveDraws": "curve.curve_draws",
    "Estimate": "estimate",
    "Fold": "answers.folding",
    "HowFar": "testing.simulated_tests",
    "Length": "curve.length",
    "Limits": "curve.length",
    "ModelError": "errors",
    "NextTest": "day.next_test",
    "Processes": "compute.processes",
    "Response": "answers.response",
    "ResponseModel": "answers.response_model",
    "Squad": "answers.squad",
    "SquadGuessWarning": "errors",
    "Worth": "answers.worth",
    "next_test": "day.next_test",
    "next_tests": "day.next_test",
}


def __getattr__(name: str) -> object:
    if name == "__version__":
        return import_module("importlib.metadata").version("warmcurve")
    if name in _MODULES:
        return getattr(import_module(f"modeling.{_MODULES[name]}"), name)
    raise AttributeError(f"module 'modeling' has no attribute '{name}'")
