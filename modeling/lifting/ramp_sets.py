"""Build-up sets that lead up to the first working set of a lift.

Build-up sets make the first working sets faster. With a working load of 80 % of the maximum, the
bar was quicker after 6 repetitions at 40 % and 6 at 80 % of that load than without them (34 men,
squat effect 0.91, bench press 0.56; J Mens Health 2021, 17(4):069, abstract), and 40 % alone was
not enough (40 men; Int J Environ Res Public Health 2020, 17:6882, abstract). Repetitions are few,
so that the sets do not tire; this and the steps are common practice, no source. None of the sets
counts as work.
"""

from __future__ import annotations

from dataclasses import dataclass

from modeling.errors import ModelError
from modeling.lifting.barbell import Barbell

__all__ = ["RampSet", "ramp_sets"]

STEPS = ((0.40, 5), (0.60, 3), (0.75, 2), (0.90, 1))
"""Shares of the working load, and repetitions."""
TOP_STEP = (0.95, 1)
TOP_FROM_SHARE = 0.90
"""Share of the maximum from which one more single comes before the working load."""
NEAR_SHARE = 0.025
"""To need fewer plates, a set may be off its step by up to this share of the working load."""
LEFT_OUT = {"full": 0, "short": 1, "practice": 0, "some": 2, "none": len(STEPS) + 1}
"""Number of lightest steps that an own warm-up leaves out; practice leaves out the heaviest."""
PRACTISED = 3


@dataclass(frozen=True)
class RampSet:
    """One build-up set.

    Attributes
    ----------
    load : float
        In the unit of the working load, bar included.
    repetitions : int
    each_side : tuple of float
        Plates on each side of the bar, from the heaviest; empty without a bar.
    share_of_max : float or None
        Load as a share of the one-repetition maximum; None if that is not known.
    """

    load: float
    repetitions: int
    each_side: tuple[float, ...]
    share_of_max: float | None


def ramp_sets(
    working_load: float,
    repetitions: int,
    maximum: float | None = None,
    barbell: Barbell | None = None,
    how: str = "full",
) -> tuple[RampSet, ...]:
    """List the build-up sets before the first working set, lightest first, all below its load.

    Parameters
    ----------
    working_load : float
        Load of the first working set, bar included.
    repetitions : int
        Repetitions of a working set; a build-up set never has more.
    maximum : float, optional
        One-repetition maximum in the same unit; None when it is not known.
    barbell : Barbell, optional
        The bar and plates at hand; without them loads are whole numbers.
    how : {"full", "short", "practice", "some", "none"}
        How much of an own warm-up: all sets, all but the lightest, the light ones for practice,
        the heavier half, or none.

    Raises
    ------
    ModelError
        The loads or repetitions are not allowed, the maximum is below the working load, or the
        bar is too heavy.
    """
    _check(working_load, repetitions, maximum, how)
    steps: tuple[tuple[float, int], ...] = STEPS
    if maximum is not None and working_load >= TOP_FROM_SHARE * maximum:
        steps = (*STEPS, TOP_STEP)
    wanted = steps[:PRACTISED] if how == "practice" else steps[LEFT_OUT[how] :]
    first = barbell.nearest(working_load).load if barbell else working_load
    sets: list[RampSet] = []
    if barbell and how in ("full", "practice") and barbell.bar < steps[0][0] * first:
        wanted = ((barbell.bar / working_load, wanted[0][1]), *wanted)
    for share, most in wanted:
        load, each_side = _load(share * working_load, NEAR_SHARE * working_load, barbell)
        if (sets[-1].load if sets else 0.0) < load < first:
            share_of_max = None if maximum is None else load / maximum
            sets.append(RampSet(load, min(most, repetitions), each_side, share_of_max))
    return tuple(sets)


def _load(wanted: float, within: float, barbell: Barbell | None) -> tuple[float, tuple[float, ...]]:
    """Give a load with few plates near the one wanted; if the bar is heavier, the bar alone."""
    if barbell is None:
        return float(round(wanted)), ()
    made = barbell.handiest(max(wanted, barbell.bar), within)
    return made.load, made.each_side


def _check(working_load: float, repetitions: int, maximum: float | None, how: str) -> None:
    if not working_load > 0:
        raise ModelError(f"The working load must be above 0. Got {working_load:g}.")
    if repetitions < 1:
        raise ModelError(f"A working set has 1 repetition or more. Got {repetitions}.")
    if maximum is not None and maximum < working_load:
        raise ModelError(
            f"The working load of {working_load:g} is above the one-repetition maximum of "
            f"{maximum:g}. Correct one of the two."
        )
    if how not in LEFT_OUT:
        raise ModelError(f"An own warm-up is one of {', '.join(LEFT_OUT)}. Got {how}.")
