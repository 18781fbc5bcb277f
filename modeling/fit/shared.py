"""What is the same for everybody: effects of context and circumstances, constants of the account.

An effect on the level (a game, a cold hall, a poor night) enters the values linearly. A constant
of the account moves the volume axis; `shared_step` learns both.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from modeling.curve.account import CONSTANTS, Account
from modeling.efforts.observations import AthleteRows

__all__ = ["BEFOREHAND", "MARK_SD", "Beforehand", "SharedEffects"]

FloatArray = NDArray[np.float64]

MARK_SD = 0.03
"""Spread expected of effects on the level (log scale): games and tests differ by some per cent."""

Beforehand = tuple[tuple[float, float], ...]
BEFOREHAND: Beforehand = tuple((c.inner(c.default), c.sd) for c in CONSTANTS)
"""Prior of each constant: mean and spread of its inner value."""

HARDLY = 1e-9
"""If no larger share of a circumstance than this varies, that is rounding."""


@dataclass(frozen=True)
class SharedEffects:
    """Effects that all athletes share.

    Attributes
    ----------
    marks : tuple of str
        Names of the effects on the level.
    constants : tuple of bool
        Which of `account.CONSTANTS` make a difference here.
    varied : tuple of float
        For each of these, the share of its circumstance that varies within athletes and
        independently of the others.
    told : tuple of bool
        Which of these the data tell more about than the prior; the others keep their default.
    value : array of shape (n_marks + n_constants,)
        Effects on the log scale, then the constants' inner values.
    found : array of shape (n,)
        The same, before constants without a visible effect were set to no effect.
    covariance : array of shape (n, n)
        How uncertain `found` is.
    beforehand : tuple of 4 pairs
        Prior of the constants, in the form of `BEFOREHAND`.
    """

    marks: tuple[str, ...]
    constants: tuple[bool, ...]
    varied: tuple[float, ...]
    told: tuple[bool, ...]
    value: FloatArray
    found: FloatArray
    covariance: FloatArray
    beforehand: Beforehand = BEFOREHAND

    @classmethod
    def begin(cls, rows: list[AthleteRows], beforehand: Beforehand = BEFOREHAND) -> SharedEffects:
        """Start from no effects and the prior of the constants."""
        marks = tuple(sorted({name for r in rows for name in r.marks}))
        around = [r.work.around() for r in rows] or [np.zeros((0, len(CONSTANTS)))]
        constants = tuple((np.concatenate(around) != 0).any(axis=0).tolist())
        varied = _varied([each[:, constants] for each in around])
        told = tuple(share > HARDLY for share in varied)
        none = np.zeros(0), np.zeros(0), np.zeros((0, 0))
        start = cls(marks, constants, varied, told, *none, beforehand)
        mean, sd, _ = start.prior()
        return replace(start, value=mean, found=mean, covariance=np.diag(sd**2))

    def prior(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Give the prior's means, spreads and least values, each of shape (n,)."""
        marks, used = len(self.marks), np.flatnonzero(self.constants)
        mean = [0.0] * marks + [self.beforehand[i][0] for i in used]
        sd = [MARK_SD] * marks + [self.beforehand[i][1] for i in used]
        least = [-np.inf] * marks + [CONSTANTS[i].least_inner for i in used]
        return np.array(mean), np.array(sd), np.array(least)

    def moved_sds(self, before: SharedEffects) -> float:
        """Largest move since `before`, in units of each effect's uncertainty."""
        if len(self.value) == 0:
            return 0.0
        return float(np.max(np.abs(self.value - before.value) / np.sqrt(np.diag(self.covariance))))

    @property
    def open(self) -> NDArray[np.bool_]:
        """Which of `value` are learned: all marks, and the constants that the data tell."""
        return np.array([True] * len(self.marks) + [*self.told], dtype=bool)

    def telling(self, enough: NDArray[np.bool_]) -> SharedEffects:
        """Keep learning only those constants that the data say enough about."""
        return replace(self, told=tuple((enough & np.array(self.told, dtype=bool)).tolist()))

    @property
    def account(self) -> Account:
        """The account with the constants learned, and the prior's means of the others."""
        inner = np.array([mean for mean, _ in self.beforehand])
        inner[list(self.constants)] = self.value[len(self.marks) :]
        return Account(**{c.name: c.outer(float(x)) for c, x in zip(CONSTANTS, inner, strict=True)})

    def design(self, rows: AthleteRows) -> FloatArray:
        """Give the marks of each session: array of shape (n_sessions, n_marks)."""
        none = np.zeros(len(rows.sessions))
        columns = [rows.marks.get(name, none) for name in self.marks]
        return np.stack(columns, axis=1) if columns else np.zeros((len(none), 0))

    def of_sessions(self, rows: AthleteRows) -> FloatArray:
        """Effect on the level of each session, shape (n_sessions,)."""
        if not self.marks:
            return np.zeros(len(rows.sessions))
        return self.design(rows) @ self.value[: len(self.marks)]


def _varied(around: list[FloatArray]) -> tuple[float, ...]:
    """Give the share of each circumstance that varies within athletes and by itself."""
    within = np.concatenate([each - each.mean(axis=0) if len(each) else each for each in around])
    total = np.sum(np.square(np.concatenate(around)), axis=0)
    shares = []
    for i in range(within.shape[1]):
        others = np.delete(within, i, axis=1)
        left = within[:, i] - others @ np.linalg.lstsq(others, within[:, i], rcond=None)[0]
        shares.append(float(left @ left / total[i]))
    return tuple(shares)
