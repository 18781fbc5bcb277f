"""The load-velocity line of one athlete and lift: the bar slows down as the load grows.

Speed is regressed on load, with one slope for all days and a level for each day. So today's last
sets are read with the slope of all days. A load at which the line crosses a speed has Fieller's
interval: all loads at which a t-test does not reject that speed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import t as student

from modeling.errors import ModelError
from modeling.estimate import Estimate

__all__ = ["FALLBACK_SPEED", "MINIMUM_SPEEDS", "LoadVelocityLine", "MinimumSpeed", "fit_line"]

COVERAGE = 0.90
FEWEST_SETS = 3


@dataclass(frozen=True)
class MinimumSpeed:
    """Mean bar speed in m/s at the one-repetition maximum, and its spread between people."""

    speed: float
    sd: float
    source: str


MINIMUM_SPEEDS = {
    "free-weight full squat": MinimumSpeed(0.24, 0.06, "Banyard 2017, 17 men"),
    "full squat": MinimumSpeed(0.32, 0.03, "Sanchez-Medina et al. 2017, 80 men"),
    "half squat": MinimumSpeed(0.33, 0.05, "Conceicao et al. 2016, 15 people"),
    "leg press": MinimumSpeed(0.21, 0.06, "Conceicao et al. 2016, 15 people"),
    "bench press": MinimumSpeed(0.16, 0.04, "Gonzalez-Badillo & Sanchez-Medina 2010, 120 men"),
}
FALLBACK_SPEED = MinimumSpeed(0.25, 0.08, "common practice, no source")
"""For lifts without a study at hand."""


@dataclass(frozen=True)
class LoadVelocityLine:
    """A fitted line, speed = level + slope x load, with the level of one day.

    Attributes
    ----------
    level, slope : float
        In m/s, and in m/s per unit of load; the slope is below 0.
    noise : float
        Standard deviation of a set about the line, in m/s.
    freedom : int
        Degrees of freedom of the noise.
    sets, days : int
        Counts behind the line.
    day_sets : int
        Number of sets on the day of this level.
    heaviest : float
        Heaviest load of all sets.
    day_load : float
        Mean load of the day's sets.
    spread : float
        Sum of squared differences of loads from their day's mean.
    """

    level: float
    slope: float
    noise: float
    freedom: int
    sets: int
    days: int
    day_sets: int
    heaviest: float
    day_load: float
    spread: float

    def load_at(self, speed: float, speed_sd: float = 0.0) -> Estimate:
        """Load at which the line reaches a speed, with its 90 % interval.

        Parameters
        ----------
        speed : float
            In m/s, below the level.
        speed_sd : float
            Standard deviation of the speed itself, if it is not known exactly.

        Raises
        ------
        ModelError
            The line does not reach the speed at a load above 0, or the interval has no end, as
            the sets say too little about how the bar slows down.

        References
        ----------
        Fieller 1954, J R Stat Soc B 16:175-185 (from memory), with the variance of the speed
        added to that of the line.
        """
        found = (speed - self.level) / self.slope
        if found <= 0:
            raise ModelError(
                f"The line never reaches {speed:g} m/s with a load. Check the speeds and the loads."
            )
        squared = self._quantile**2
        # (level + slope x - speed)^2 <= t^2 (noise^2 (1/n + (x - mean)^2 / spread) + sd^2) is
        # quadratic in z = x - mean; its leading term is above 0 if the slope is surely below 0.
        leading = self.slope**2 - squared * self.noise**2 / self.spread
        offset = self.level + self.slope * self.day_load - speed
        constant = offset**2 - squared * (self.noise**2 / self.day_sets + speed_sd**2)
        within = (self.slope * offset) ** 2 - leading * constant
        if leading <= 0 or within < 0:
            raise ModelError(
                "These sets do not slow down clearly enough with the load for a line. Add sets "
                "with lighter and with heavier loads."
            )
        half = np.sqrt(within) / leading
        middle = self.day_load - self.slope * offset / leading
        return Estimate(float(found), max(0.0, float(middle - half)), float(middle + half))

    def one_repetition_max(self, minimum: MinimumSpeed) -> Estimate:
        """Load at the speed of a maximum; like `load_at`, with the spread between people."""
        return self.load_at(minimum.speed, minimum.sd)

    def load_at_share(self, share: float, minimum: MinimumSpeed) -> Estimate:
        """Load that is a share of today's maximum, with its interval; errors as for `load_at`."""
        maximum = self.one_repetition_max(minimum)
        return Estimate(share * maximum.median, share * maximum.low, share * maximum.high)

    def speed_at_share(self, share: float, minimum: MinimumSpeed) -> float:
        """Mean bar speed in m/s at a share of today's maximum."""
        return self.level + share * (minimum.speed - self.level)

    @property
    def _quantile(self) -> float:
        return float(student.ppf(0.5 + COVERAGE / 2.0, self.freedom))

    def _variance(self, load: float) -> float:
        return self.noise**2 * (1.0 / self.day_sets + (load - self.day_load) ** 2 / self.spread)


def fit_line(
    load: ArrayLike,
    speed: ArrayLike,
    day: Sequence[object] | None = None,
    of_day: object | None = None,
) -> LoadVelocityLine:
    """Fit the line by least squares.

    Parameters
    ----------
    load, speed : array-like of shape (n_sets,)
        Loads above 0, all in one unit, and mean speeds in m/s above 0. No missing values.
    day : sequence of length n_sets, optional
        The day of each set; None means that all are of one day.
    of_day : object, optional
        The day whose level is wanted; None is the day of the last set.

    Raises
    ------
    ModelError
        There are fewer than 3 sets, too few for the number of days, values that are not above 0,
        no day of that name, fewer than two loads, or speeds that do not fall with the load.
    """
    x, y = np.asarray(load, dtype=float), np.asarray(speed, dtype=float)
    days = np.zeros(len(x), dtype=int) if day is None else np.unique(np.array(day), True, True)[2]
    named: list[object] = [0] * len(x) if day is None else list(day)
    wanted = named[-1] if of_day is None and named else of_day
    _check(x, y, named, wanted)
    counts = np.bincount(days)
    own_x, own_y = np.bincount(days, x) / counts, np.bincount(days, y) / counts
    along, up = x - own_x[days], y - own_y[days]
    freedom = len(x) - len(counts) - 1
    spread = float(along @ along)
    if freedom < 1 or spread <= 1e-9 * float(x @ x):
        raise ModelError(
            "A line needs different loads on the same day, and more sets than days. Add sets."
        )
    slope = float(along @ up) / spread
    if slope >= 0:
        raise ModelError(
            "The speeds of these sets do not fall as the load grows. Check loads and speeds."
        )
    left = up - slope * along
    at = int(days[named.index(wanted)])
    return LoadVelocityLine(
        level=float(own_y[at] - slope * own_x[at]),
        slope=slope,
        noise=float(np.sqrt(left @ left / freedom)),
        freedom=freedom,
        sets=len(x),
        days=len(counts),
        day_sets=int(counts[at]),
        heaviest=float(x.max()),
        day_load=float(own_x[at]),
        spread=spread,
    )


def _check(
    load: np.ndarray, speed: np.ndarray, days: Sequence[object], wanted: object | None
) -> None:
    if not len(load) == len(speed) == len(days):
        raise ModelError("Loads, speeds and days must be as many as there are sets.")
    if len(load) < FEWEST_SETS:
        raise ModelError(f"A line needs {FEWEST_SETS} sets or more. There are {len(load)}.")
    for what, values in (("load", load), ("speed", speed)):
        if not (np.isfinite(values).all() and (values > 0).all()):
            raise ModelError(f"Every {what} must be a number above 0.")
    if wanted not in days:
        raise ModelError(f"There are no sets of {wanted}.")
