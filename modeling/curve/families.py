"""The defaults that a squad is fitted with."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from modeling.curve.rise_and_fall import RiseAndFall
from modeling.curve.shapes import Hyperprior, ResponseFamily
from modeling.curve.smooth_curve import SmoothRiseAndFall

LEVEL_PRIOR = Hyperprior(np.zeros(1), np.full(1, 20.0), np.full((1, 1), 0.15**2), 1.0)
"""Athletes' levels differ by some 15 % (weight of one athlete); their mean may be anything."""

FAMILIES: Mapping[str, ResponseFamily] = {
    "a shape on either side": RiseAndFall(),
    "one smooth curve": SmoothRiseAndFall(),
}
"""The default curve families, the wider one first; the squad's evidence decides between them."""

LEAST_NOISE = 5e-4
"""0.05 % of the value: finer than any test here is read (1 ms in a 2 s sprint)."""
