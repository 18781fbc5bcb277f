"""The curve that the full Bayesian peer, nlme and the sixth kind of squad share.

A saturating rise less a linear fatigue, ``a (1 - exp(-v / tau)) - h v``, written in the
coordinates of its peak. With r = v / best and x = best / tau it is, in log performance,

    f(v) = -gain * phi(x (1 - r)) / phi(x),    phi(z) = exp(z) - 1 - z

so that f(best) = 0 and f(0) = -gain; x says how much steeper the rise is than the fall.
"""

from __future__ import annotations

from typing import Any

import numpy as np

__all__ = ["LOG_BEND_RANGE", "change"]

LOG_BEND_RANGE = (-3.0, 4.0)
"""From a parabola to a rise that is over at once; beyond this range curves no longer differ."""


def change(volume: Any, log_best: Any, log_gain: Any, log_bend: Any, xp: Any = np) -> Any:
    """Return log performance against the peak; all broadcast, `xp` is numpy or jax.numpy."""
    bend = xp.exp(xp.clip(log_bend, *LOG_BEND_RANGE))
    ahead = bend * (1.0 - volume * xp.exp(-log_best))
    return -xp.exp(log_gain) * _phi(ahead, xp) / _phi(bend, xp)


def _phi(z: Any, xp: Any) -> Any:
    return xp.expm1(z) - z
