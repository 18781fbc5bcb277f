"""How a fade test ends: by the stop rule, by the tester, by the athlete, or at the most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from modeling.day.caution import most_in_test
from modeling.testing.fade import SHARE, SHARE_OF, fade_is_over

__all__ = ["AT_THE_MOST", "ATHLETE_STOPPED", "TESTER_ENDED", "Ending", "draw_ending"]

TESTER_ENDED = "tester ended the test: no more to be seen"
ATHLETE_STOPPED = "athlete stopped the test: tired"
AT_THE_MOST = "the most for a test was done"

TESTER_LOOKS_FROM = {"jump": (26, 40), "throw": (28, 41)}
TESTER_MAY_END = {"jump": 0.5, "throw": 0.9}
STILL_GOOD = {"jump": 0.98, "throw": 1.0}
"""While the last few efforts are at least this share of the best few, the tester goes on."""
ATHLETE_MAY_STOP = {"jump": 0.12, "throw": 0.1}
ATHLETE_STOPS = (16, 30)
LAST_FEW = 5


@dataclass(frozen=True)
class Ending:
    """Who would end a test, and when.

    Attributes
    ----------
    effort : str
        Its kind: jump or throw.
    tester_looks_from : int or None
        From this effort on, the tester ends the test once the last few are no longer good. None
        if the tester never does.
    athlete_stops_at : int or None
        After this effort the athlete stops; None if the athlete never does.
    """

    effort: str
    tester_looks_from: int | None
    athlete_stops_at: int | None

    def of(self, values: Sequence[float]) -> tuple[int, str]:
        """Return after how many of the values the test ends, and why; empty for the stop rule."""
        share = SHARE_OF.get(self.effort, SHARE)
        most = min(most_in_test(self.effort), len(values))
        for done in range(1, most + 1):
            if fade_is_over(values[:done], share=share):
                return done, ""
            if done == self.athlete_stops_at:
                return done, ATHLETE_STOPPED
            looks = self.tester_looks_from is not None and done >= self.tester_looks_from
            if looks and _last_few_share(values[:done]) < STILL_GOOD[self.effort]:
                return done, TESTER_ENDED
        return most, AT_THE_MOST


def draw_ending(effort: str, rng: np.random.Generator) -> Ending:
    """Draw who would end a test of a kind of effort, and when."""
    tester, athlete = rng.random(2)
    looks_from, stops_at = rng.integers(*TESTER_LOOKS_FROM[effort]), rng.integers(*ATHLETE_STOPS)
    return Ending(
        effort,
        int(looks_from) if tester < TESTER_MAY_END[effort] else None,
        int(stops_at) if athlete < ATHLETE_MAY_STOP[effort] else None,
    )


def _last_few_share(values: Sequence[float]) -> float:
    """Return the mean of the last few values as a share of the best mean of as many in a row."""
    means = np.convolve(values, np.full(LAST_FEW, 1.0 / LAST_FEW), mode="valid")
    return float(means[-1] / means.max())
