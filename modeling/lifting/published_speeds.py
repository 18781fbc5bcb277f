"""Load from bar speed by published lines, for athletes without a line of their own.

A line holds for the kind of speed and the bar that its study measured. At the same share of the
maximum, the mean speed of the whole way up is slower than that of its propulsive part, which leaves
out the braking (by definition). A free bar is slower than one in rails (prone bench pull, 23 men;
Miras-Moreno 2023, Heliyon 9:e19628, abstract). Read on the line for the faster kind, a slower
speed makes loads seem too heavy.
"""

from __future__ import annotations

from dataclasses import dataclass

from modeling.errors import ModelError

__all__ = ["BENCH_PRESS", "FULL_SQUAT", "PARALLEL_SQUAT", "PublishedLine"]

MEAN, PROPULSIVE, GUIDED = "mean", "mean propulsive", "guided"


@dataclass(frozen=True)
class PublishedLine:
    """The share of the one-repetition maximum by speed, as a study found it for a group.

    Attributes
    ----------
    coefficients : tuple of float
        Coefficients of the polynomial in speed (m/s) that gives the share in %, constant first.
    slowest, fastest : float
        Range of speeds in m/s that it was fitted to.
    speed_kind : {"mean", "mean propulsive", "peak"}
        Which speed was measured: the mean of the way up, that of its propulsive part, or the peak.
    bar : {"free", "guided"} or None
        Whether the bar was free or ran in rails; None where the abstract does not say.
    source : str
        The study.
    from_memory : bool
        Whether the coefficients are from memory, not read in the study itself.
    """

    coefficients: tuple[float, ...]
    slowest: float
    fastest: float
    speed_kind: str
    bar: str | None
    source: str
    from_memory: bool

    def matches(self, speed_kind: str, bar: str | None) -> bool:
        """Whether a kind of speed and a bar are those of the study.

        A study that names no bar takes any. A bar that is not known yet fits only such a study.
        """
        return speed_kind == self.speed_kind and self.bar in (None, bar)

    def share_pct(self, speed: float) -> float:
        """Share of the maximum in % at a speed in m/s.

        Raises
        ------
        ModelError
            The speed is outside the range that the line was fitted to.
        """
        if not self.slowest <= speed <= self.fastest:
            raise ModelError(
                f"The line holds for speeds of {self.slowest:g} to {self.fastest:g} m/s. Got "
                f"{speed:g}."
            )
        return sum(each * speed**power for power, each in enumerate(self.coefficients))


PARALLEL_SQUAT = PublishedLine(
    (120.15, -83.54),
    0.2,
    1.2,
    MEAN,
    None,
    "Naclerio & Larumbe-Zabala, 209 men and 81 women",
    False,
)
"""Coefficients from the study's abstract; the range of speeds is common practice, no source."""
BENCH_PRESS = PublishedLine(
    (112.33, -73.501, 8.4326),
    0.17,
    1.33,
    PROPULSIVE,
    GUIDED,
    "Gonzalez-Badillo & Sanchez-Medina 2010, 120 men",
    True,
)
FULL_SQUAT = PublishedLine(
    (117.0, -50.71, -5.961),
    0.3,
    1.3,
    PROPULSIVE,
    GUIDED,
    "Sanchez-Medina et al. 2017, 80 men",
    True,
)
"""The study itself says that its bar ran in rails (legend of figure 1)."""
