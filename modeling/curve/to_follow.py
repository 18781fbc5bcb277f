"""The work that a warm-up is for."""

from __future__ import annotations

from dataclasses import dataclass

from modeling.errors import ModelError

__all__ = ["GOALS", "ToFollow"]

GOALS = ("best", "sustained", "growth")
"""One best effort; efforts that all count; growth work, whose last sets count like its first."""


@dataclass(frozen=True)
class ToFollow:
    """The work that the warm-up is for.

    Attributes
    ----------
    goal : {"best", "sustained", "growth"}
    efforts : int
        How many efforts follow and count.
    price_pct_per_minute : float
        What a minute of warm-up costs, in % of performance.
    minutes_per_effort : float
        How long one effort of the warm-up takes.
    recovery_seconds : float
        Between two of the efforts that follow. Anything up to the rest in a test counts as that
        rest.
    """

    goal: str = "best"
    efforts: int = 1
    price_pct_per_minute: float = 0.0
    minutes_per_effort: float = 0.5
    recovery_seconds: float = 0.0

    def __post_init__(self) -> None:
        if self.goal not in GOALS:
            raise ModelError(f"The goal must be one of {', '.join(GOALS)}. Got {self.goal}.")
        if self.efforts < 1:
            raise ModelError(f"At least 1 effort must follow. Got {self.efforts}.")
        if not (self.price_pct_per_minute >= 0 and self.minutes_per_effort > 0):
            raise ModelError("A price must be 0 or more and an effort must take some time.")
        if not self.recovery_seconds >= 0:
            raise ModelError(f"A recovery must be 0 s or more. Got {self.recovery_seconds}.")
