"""What a speed of the bar says about the load where an athlete has no line of their own."""

from __future__ import annotations

from dataclasses import dataclass

from modeling.errors import ModelError

__all__ = ["BENCH_PRESS", "FULL_SQUAT", "PARALLEL_SQUAT", "PublishedLine"]


@dataclass(frozen=True)
class PublishedLine:
    """The share of the one-repetition maximum by mean speed, as a study of a group found it.

    Attributes
    ----------
    coefficients : tuple of float
        Of the polynomial in the speed (m/s) that gives the share in %, constant first.
    slowest, fastest : float
        Speeds in m/s between which it was fitted.
    source : str
        The study.
    from_memory : bool
        Whether the coefficients were not read in the study itself.
    """

    coefficients: tuple[float, ...]
    slowest: float
    fastest: float
    source: str
    from_memory: bool

    def share_pct(self, speed: float) -> float:
        """Share of the maximum in % at a mean speed in m/s.

        Raises
        ------
        ModelError
            If the speed lies outside those it was fitted to.
        """
        if not self.slowest <= speed <= self.fastest:
            raise ModelError(
                f"The line holds for speeds of {self.slowest:g} to {self.fastest:g} m/s. Got "
                f"{speed:g}."
            )
        return sum(each * speed**power for power, each in enumerate(self.coefficients))


PARALLEL_SQUAT = PublishedLine(
    (120.15, -83.54), 0.2, 1.2, "Naclerio & Larumbe-Zabala, 209 men and 81 women", False
)
"""Coefficients from the study's abstract; the range of speeds is common practice, no source."""
BENCH_PRESS = PublishedLine(
    (112.33, -73.501, 8.4326), 0.17, 1.33, "Gonzalez-Badillo & Sanchez-Medina 2010, 120 men", True
)
FULL_SQUAT = PublishedLine(
    (117.0, -50.71, -5.961), 0.3, 1.3, "Sanchez-Medina et al. 2017, 80 men", True
)
