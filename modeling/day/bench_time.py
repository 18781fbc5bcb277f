"""A substitute on the bench: what rest takes away, and how much brings it back.

After r minutes the warm-up counts for 2 ** (-r / half_life) of itself (`account`), and its fatigue
fades much faster (`two_clocks`); what is done again counts in full. The re-warm-up is the smallest
amount with an expected performance within the worthwhile band of the best that one can reach. It
stays within the athlete's limits together with the warm-up, even if that is far from the best.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from modeling.curve.account import Circumstances
from modeling.curve.curve_draws import CurveDraws
from modeling.estimate import Estimate, drawn_quantiles, estimate, percent

__all__ = ["BENCH_MINUTES", "BenchTime", "bench_times"]

BENCH_MINUTES = (5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 50.0, 60.0)


@dataclass(frozen=True)
class BenchTime:
    """What to do after some minutes of rest.

    Attributes
    ----------
    rest_minutes : float
    cost_pct : Estimate
        What is lost against the peak by going on without a re-warm-up, in %.
    volume : float
        Re-warm-up that brings the athlete back within the worthwhile band, or as near to it as
        the limits allow.
    """

    rest_minutes: float
    cost_pct: Estimate
    volume: float


def bench_times(
    curve: CurveDraws,
    done: float,
    around: Circumstances | None = None,
    minutes: tuple[float, ...] = BENCH_MINUTES,
) -> tuple[BenchTime, ...]:
    """Give the table for one athlete.

    Parameters
    ----------
    curve : CurveDraws
        An athlete's; one without data has the squad's.
    done : float
        Volume done before the rest.
    around : Circumstances, optional
        None is the squad's usual circumstances; the rest in it is replaced.
    minutes : tuple of float
        Minutes of rest in the table.
    """
    usual = around or curve.usual
    left = max(float(np.floor(curve.limits.most - done)), 0.0)
    again = np.arange(np.ceil(curve.volume[-1]) + 1.0)
    rows = []
    for rest in minutes:
        here = replace(usual, rest_minutes=rest)
        change = percent(curve.after(curve.in_effect(done, here, again)))
        expected = change.mean(axis=1)
        enough = expected >= expected.max() - curve.worthwhile_pct
        rows.append(
            BenchTime(
                rest_minutes=rest,
                cost_pct=estimate(drawn_quantiles(-change[0])),
                volume=min(float(again[int(np.argmax(enough))]), left),
            )
        )
    return tuple(rows)
