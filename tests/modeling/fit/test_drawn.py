"""Best, gain and hold, read off drawn curves."""

from __future__ import annotations

import numpy as np
import pytest

from modeling.curve.rise_and_fall import RiseAndFall
from modeling.fit.drawn import Deviations, Drawn


def test_curves_without_deviations_have_the_best_gain_and_hold_of_their_coordinates() -> None:
    space = Deviations(typical_volume=20.0, highest_peak=100.0, farthest=400.0)
    best, gain, hold = np.array([[15.0, 0.05, 20.0], [40.0, 0.02, 60.0], [8.0, 0.1, 9.0]]).T
    coordinates = np.log(np.stack([best, gain, hold], axis=1))
    nothing = np.zeros((space.at(space.volume).shape[1], 3))
    drawn = Drawn.of(RiseAndFall(), np.zeros(3, dtype=int), coordinates, nothing, space)
    # Curves are read at nodes a few per cent apart.
    assert drawn.top == pytest.approx(0.0, abs=2e-3)
    assert drawn.best == pytest.approx(best, rel=0.05)
    assert drawn.gain == pytest.approx(gain, rel=0.03)
    assert drawn.hold == pytest.approx(hold, rel=0.1)
