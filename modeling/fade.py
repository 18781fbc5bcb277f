"""The stop rule of a fade test: arithmetic on what was measured, never on the model."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["fade_is_over"]

SHARE = 0.90
IN_A_ROW = 3


def fade_is_over(
    values: Sequence[float], *, share: float = SHARE, in_a_row: int = IN_A_ROW
) -> bool:
    """Whether the last `in_a_row` efforts are all below `share` of the best so far.

    Higher values are better; the best counts every effort up to the one judged. Three in a
    row below 90 % is common practice, no source.
    """
    if len(values) < in_a_row:
        return False
    best = max(values)
    return all(value < share * best for value in values[-in_a_row:])
