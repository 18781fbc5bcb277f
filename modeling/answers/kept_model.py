"""What is kept of a fitted model so that sessions can be folded in later."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from modeling.curve.account import Circumstances
from modeling.curve.shapes import DataRange
from modeling.fit.learned import Learned, plain, read_plain

__all__ = ["KEPT_PARAMETERS", "KeptModel"]

FloatArray = NDArray[np.float64]

KEPT_PARAMETERS = (
    "standard_volume worthwhile_pct higher_is_better firm_chance rounds tolerance"
).split()


@dataclass(frozen=True)
class KeptModel:
    """What a fit learned of the squad, with the parameters; nothing of an athlete.

    Attributes
    ----------
    parameters : mapping
        Those of `KEPT_PARAMETERS`, by name.
    volume : array of shape (n_volumes,)
        Where curves are read off.
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
