"""Loads that a bar and the plates at hand can make."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

from modeling.errors import ModelError

__all__ = ["AS_MANY", "BarLoad", "Barbell"]

AS_MANY = 12
"""Pairs of a plate if no number is given: as many as fit on a bar."""
PARTS = 100
"""Weights are exact to a hundredth of their unit."""
MOST_KINDS = 10
HEAVIEST = 1000.0


@dataclass(frozen=True)
class BarLoad:
    """A load, bar included, and the plates on each side from the heaviest."""

    load: float
    each_side: tuple[float, ...]


@dataclass(frozen=True)
class Barbell:
    """A bar and the pairs of plates at hand, all in one unit.

    Attributes
    ----------
    bar : float
        Weight of the bar, collars included.
    pairs : tuple of (float, int)
        Weights of plates and how many pairs of each.
    """

    bar: float
    pairs: tuple[tuple[float, int], ...]

    def __post_init__(self) -> None:
        if not 0 <= self.bar <= HEAVIEST:
            raise ModelError(f"A bar weighs 0 to {HEAVIEST:g}. Got {self.bar:g}.")
        if len(self.pairs) > MOST_KINDS:
            raise ModelError(f"At most {MOST_KINDS} weights of plates. Got {len(self.pairs)}.")
        for plate, count in self.pairs:
            if not (0 < plate <= HEAVIEST and math.isclose(plate * PARTS, round(plate * PARTS))):
                raise ModelError(
                    f"A plate weighs more than 0, to {HEAVIEST:g}, in steps of {1 / PARTS:g}. Got "
                    f"{plate:g}."
                )
            if count < 1:
                raise ModelError(f"There must be 1 pair or more of a plate. Got {count}.")

    def nearest(self, load: float) -> BarLoad:
        """Give the load nearest to the one wanted; if two are as near, the lighter one.

        Raises
        ------
        ModelError
            The bar alone is heavier than what is wanted, or all plates together are too light by
            more than the lightest pair.

        Examples
        --------
        >>> Barbell(20.0, ((20.0, 2), (10.0, 1), (2.5, 2))).nearest(83.0)
        BarLoad(load=85.0, each_side=(20.0, 10.0, 2.5))
        """
        self._check(load)
        side = (load - self.bar) / 2.0 * PARTS
        return self._made(min(self._sides, key=lambda made: (abs(made - side), made)))

    def handiest(self, load: float, within: float) -> BarLoad:
        """Give the load with the fewest plates that is near enough to the one wanted.

        With as few plates the nearest load wins, then the lighter one. If no load is within that
        distance, the result is the nearest of all. Errors as for `nearest`.
        """
        self._check(load)
        side = (load - self.bar) / 2.0 * PARTS
        near = [made for made in self._sides if abs(made - side) <= within / 2.0 * PARTS + 1e-6]
        if not near:
            return self.nearest(load)
        return self._made(
            min(near, key=lambda made: (len(self._sides[made]), abs(made - side), made))
        )

    def _check(self, load: float) -> None:
        if load < self.bar:
            raise ModelError(
                f"The bar alone weighs {self.bar:g}; a load of {load:g} cannot be made with it. "
                "Take a lighter bar or a heavier load."
            )
        most = self.bar + 2.0 * max(self._sides) / PARTS
        lightest = min((plate for plate, _ in self.pairs), default=0.0)
        if load > most + 2.0 * lightest:
            raise ModelError(
                f"All plates together make {most:g}; a load of {load:g} needs more plates."
            )

    def _made(self, side: int) -> BarLoad:
        return BarLoad(self.bar + 2.0 * side / PARTS, self._sides[side])

    @cached_property
    def _sides(self) -> dict[int, tuple[float, ...]]:
        """Possible weights of one side, in parts, each with the fewest plates that make it."""
        most = round(HEAVIEST / 2.0 * PARTS)
        sides: dict[int, tuple[float, ...]] = {0: ()}
        for plate, count in sorted(self.pairs, reverse=True):
            weight = round(plate * PARTS)
            for start, plates in list(sides.items()):
                for number in range(1, count + 1):
                    made = start + number * weight
                    if made > most:
                        break
                    with_it = (*plates, *[plate] * number)
                    if made not in sides or _handier(with_it, sides[made]):
                        sides[made] = with_it
        return sides


def _handier(plates: tuple[float, ...], than: tuple[float, ...]) -> bool:
    """Whether some plates are fewer, or as many with a heavier one first."""
    return (-len(plates), plates) > (-len(than), than)
