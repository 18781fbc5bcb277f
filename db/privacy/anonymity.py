"""How many athletes share what others may know about them: k-anonymity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

__all__ = ["Anonymity", "anonymity"]


@dataclass(frozen=True)
class Anonymity:
    """How far some columns tell athletes apart.

    Attributes
    ----------
    columns : tuple of str
        What somebody may know about an athlete.
    athletes : int
    groups : int
        Different combinations of values.
    smallest : int
        Athletes in the smallest group, the k of k-anonymity; 0 without athletes.
    alone : int
        Athletes whose combination nobody shares.
    """

    columns: tuple[str, ...]
    athletes: int
    groups: int
    smallest: int
    alone: int


def anonymity(athletes: pd.DataFrame, columns: Sequence[str]) -> Anonymity:
    """Count how many athletes share the same values.

    Parameters
    ----------
    athletes : DataFrame
        A row for each athlete; a missing value is a value like any other.
    columns : sequence of str

    References
    ----------
    Sweeney (2002), k-anonymity: a model for protecting privacy, International Journal of
    Uncertainty, Fuzziness and Knowledge-Based Systems 10, 557-570.
    """
    sizes = athletes.groupby(list(columns), dropna=False).size()
    return Anonymity(
        columns=tuple(columns),
        athletes=len(athletes),
        groups=len(sizes),
        smallest=int(sizes.min()) if len(sizes) else 0,
        alone=int((sizes == 1).sum()),
    )
