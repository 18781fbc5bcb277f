"""The stop rule of a fade test: arithmetic on what was measured, without the model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["SHARE_OF", "FadeState", "decrement_pct", "fade_is_over", "fade_state"]

SHARE = 0.90
SHARE_OF = {"throw": 0.95, "sprint": 1.0 / 1.04}
"""What counts as low depends on how much efforts vary: throws in a test seldom lose a tenth, and
a sprint that is 4 % slower (3 to 5 %) is a tired one. These are common practice, no source, and so
is 90 % for jumps and everything else."""
IN_A_ROW = 3


@dataclass(frozen=True)
class FadeState:
    """Where a fade test stands after some efforts.

    Attributes
    ----------
    best : float or None
        Best value so far; None without efforts.
    below_best_pct : float
        How far the last effort is below the best so far, in %; 0 for the best itself.
    low_in_a_row : int
        How many efforts in a row, up to the last, are below the share of the best so far.
    over : bool
        Whether the rule says stop.
    """

    best: float | None = None
    below_best_pct: float = 0.0
    low_in_a_row: int = 0
    over: bool = False


def fade_state(
    values: Sequence[float],
    *,
    share: float = SHARE,
    in_a_row: int = IN_A_ROW,
    higher_is_better: bool = True,
) -> FadeState:
    """Apply the stop rule to the efforts of a test.

    Parameters
    ----------
    values : sequence of float
        The usable efforts in order, above 0. Leave spoiled ones out: they are neither the
        best nor low, and a row of low efforts continues across them.
    share : float
        An effort is low if it is below this share of the best so far. For times, where lower is
        better, their inverses (speeds) are compared. `SHARE_OF` has the share by kind of effort.
    in_a_row : int
        The test is over when this many in a row are low. Three below 90 % is common practice,
        no source.
    higher_is_better : bool
        False for times.

    Examples
    --------
    The best jump is the second; three in a row are then below 90 % of it.

    >>> test = fade_state([40.1, 42.0, 37.6, 36.9, 37.2])
    >>> test.best, test.low_in_a_row, test.over
    (42.0, 3, True)
    """
    if not values:
        return FadeState()
    best = max(values) if higher_is_better else min(values)
    shares = [value / best if higher_is_better else best / value for value in values]
    low = 0
    for one in reversed(shares):
        if not one < share:
            break
        low += 1
    return FadeState(best, 100.0 * (1.0 - shares[-1]), low, low >= in_a_row)


def fade_is_over(
    values: Sequence[float], *, share: float = SHARE, in_a_row: int = IN_A_ROW
) -> bool:
    """Whether the last `in_a_row` efforts are all below `share` of the best so far.

    Higher values are better. The best is over all efforts up to the last.
    """
    return fade_state(values, share=share, in_a_row=in_a_row).over


def decrement_pct(values: Sequence[float], *, higher_is_better: bool = True) -> float:
    """Percentage decrement score: how far the mean lies from the best, in % of the best.

    It is 100 (1 - sum / (n best)) for heights and speeds, and 100 (sum / (n best) - 1) for times;
    0 or above. It was the most valid and reliable of the formulas compared (Glaister et al. 2004, J
    Strength Cond Res 18:459-462; 2008, 22:1597-1601), but any score from a small drop is
    unreliable (Oliver 2009, J Sci Med Sport 12:20-23).

    Raises
    ------
    ValueError
        There are no values.

    Examples
    --------
    Three sprints in s; their mean is 5 % above the fastest.

    >>> round(decrement_pct([4.0, 4.2, 4.4], higher_is_better=False), 1)
    5.0
    """
    if not values:
        raise ValueError("A decrement needs at least one effort.")
    mean = sum(values) / len(values)
    if higher_is_better:
        return 100.0 * (1.0 - mean / max(values))
    return 100.0 * (mean / min(values) - 1.0)
