"""Warm-up response models: numbers only, no database and no screen."""

from modeling.errors import ModelError, ModelWarning
from modeling.response import Curve, Estimate, Response, Squad
from modeling.response_model import ResponseModel

__all__ = ["Curve", "Estimate", "ModelError", "ModelWarning", "Response", "ResponseModel", "Squad"]
