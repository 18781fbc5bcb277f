"""Warm-up response models: numbers only, no database and no screen."""

from modeling.curve_draws import CurveDraws
from modeling.errors import ModelError
from modeling.response import Curve, Estimate, Response
from modeling.response_model import ResponseModel
from modeling.squad import Squad

__all__ = ["Curve", "CurveDraws", "Estimate", "ModelError", "Response", "ResponseModel", "Squad"]
