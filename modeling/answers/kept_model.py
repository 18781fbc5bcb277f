"""The part of a fitted model that is saved, so that sessions can be folded in later."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from modeling.answers.parameters import engine_settings
from modeling.curve.account import Circumstances
from modeling.curve.families import FAMILIES
from modeling.curve.shapes import DataRange
from modeling.fit.learned import Learned, plain, read_plain
from modeling.fit.squad_fit import SquadFit

__all__ = ["KeptModel"]

FloatArray = NDArray[np.float64]

KEPT_PARAMETERS = (
    "standard_volume worthwhile_pct higher_is_better firm_chance rounds tolerance "
    "effort_rest_seconds"
).split()


@dataclass(frozen=True)
class KeptModel:
    """What a fit learned of the squad, with the parameters; nothing about any athlete.

    Attributes
    ----------
    parameters : mapping
        Values of `KEPT_PARAMETERS`, by name.
    volume : array of shape (n_volumes,)
        Volumes in effect at which curves are read.
    standard_volume : float
        In effect.
    usual : Circumstances
        The squad's.
    family : str
        Name of the curves, one of `FAMILIES`.
    data : DataRange
    learned : Learned
    """

    parameters: Mapping[str, Any]
    volume: FloatArray
    standard_volume: float
    usual: Circumstances
    family: str
    data: DataRange
    learned: Learned

    @classmethod
    def of(cls, model: Any) -> KeptModel:
        """Take what is to be saved from a fitted `ResponseModel`."""
        return cls(
            parameters={name: getattr(model, name) for name in KEPT_PARAMETERS},
            volume=model.volume_,
            standard_volume=model.standard_volume_,
            usual=model.usual_,
            family=next(name for name, each in FAMILIES.items() if each == model.family_),
            data=model.fit_.data,
            learned=model.fit_.learned,
        )

    def put_into(self, model: Any) -> None:
        """Put what was learned into a model that already has the parameters."""
        model.family_ = FAMILIES[self.family]
        settings = engine_settings(model, model.family_)
        model.fit_ = SquadFit(settings, self.data, self.learned, (), (), (), rounds=0)
        model.volume_, model.usual_ = self.volume, self.usual
        model.standard_volume_ = self.standard_volume
        model.account_ = self.learned.shared.account

    def json(self) -> str:
        """Write it as text."""
        return json.dumps(plain(self))

    @classmethod
    def read(cls, text: str) -> KeptModel:
        """Read what `json` wrote.

        Raises
        ------
        KeyError, TypeError, ValueError
            If another version of the model wrote it.
        """
        return read_plain(cls, json.loads(text))
