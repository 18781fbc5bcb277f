"""A measure of your own, with a family of curves of your own.

A measure needs only values above 0, and whether higher is better. A side of a curve is any function
of the distance from the peak that is 0 at the peak and rises.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from modeling import ResponseModel
from modeling.curve.rise_and_fall import RiseAndFall
from modeling.curve.sides import Power


@dataclass(frozen=True)
class Cosine:
    """Half a wave: leaves the peak like a parabola and ends as a straight line."""

    width: float

    def __call__(self, distance):
        reach = np.pi * self.width / 2
        wave = 1 - np.cos(np.minimum(distance, reach) / self.width)
        return wave + np.maximum(distance - reach, 0) / self.width


efforts = pd.read_csv("efforts.csv")
seconds = 400 / efforts["value"]  # a time: lower is better
families = {
    "ours": RiseAndFall(rises=(Cosine(0.5),), falls=(Cosine(0.5), Power(1.0))),
    "one that comes with it": RiseAndFall(),
}
for name, family in families.items():
    model = ResponseModel(standard_volume=15, higher_is_better=False, family=family)
    model.fit(efforts, seconds)
    print(f"{name}: log evidence {model.fit_.log_evidence:.1f}, {len(seconds)} efforts")
    print(model.to_frame()[["athlete", "best_volume", "best_volume_low", "best_volume_high"]])
