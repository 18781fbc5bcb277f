"""What looks wrong in the data behind a fit: a list for people to judge; nothing is changed.

An effort is a finding if noise puts one that far off only once in 4,000. This noise is the
athlete's own, with the tails that all but the farthest efforts have. The limits of the other kinds
are set so that in a squad with correct data the chance of any of them is a few per cent (see their
modules). Every finding says how many like it to expect in correct data of this size.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from modeling.checks.device_shift import DeviceShift, device_shifts
from modeling.checks.duplicates import doubled_sessions
from modeling.checks.leave_out import Evidence, evidence_of
from modeling.checks.session_faults import (
    SessionFault,
    athletes_in_another_unit,
    nearest_factor,
    sessions_apart,
    sessions_in_another_unit,
    swapped_sessions,
)
from modeling.checks.session_levels import (
    EffortsApart,
    SessionLevels,
    efforts_apart,
    session_levels,
)
from modeling.fit.squad_fit import SquadFit

__all__ = ["KINDS", "DataCheck", "Finding", "check_data"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

KINDS = ("unit", "swap", "duplicate", "device", "jump", "effort")
EFFORT_CHANCE = 1.0 / 4000.0


@dataclass(frozen=True)
class Finding:
    """Something that people should look at.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    athlete, other_athlete : object or None
        The athletes it is about. The second is set only if there are two; both are None if it is
        about everybody.
    rows : tuple of int
        Places of its efforts in the table that was fitted.
    key_rows : tuple of int
        Rows that identify the finding: all of them, but only those of the first day for a shift.
    expected : tuple of float
        Expected value of each of `rows`, in the unit of the values.
    apart_pct : float
        Difference of the values from what is expected, in %; for several, the typical one.
    noise_pct : float
        Noise to compare with, in %: the athlete's own noise of an effort or of a session's level
        (for a shift of all, everybody's).
    noise_count : int
        Efforts or sessions behind that noise.
    chance : float
        How many such findings to expect in correct data of this size, at most 1.
    factor : float or None
        What the values seem to be multiplied by, if that is the factor of a unit; for a swap, how
        many times better the two sessions fit when exchanged.
    stays : bool
        For a shift of all: whether it holds from that day on.
    """

    kind: str
    athlete: object
    other_athlete: object
    rows: tuple[int, ...]
    key_rows: tuple[int, ...]
    expected: tuple[float, ...]
    apart_pct: float
    noise_pct: float
    noise_count: int
    chance: float
    factor: float | None = None
    stays: bool = False


@dataclass(frozen=True)
class DataCheck:
    """All findings of a fit, the worst first.

    Attributes
    ----------
    findings : tuple of Finding
    effort_limit : float
        An effort this many times the noise away, or more, is a finding.
    """

    findings: tuple[Finding, ...]
    effort_limit: float


def check_data(
    fit: SquadFit,
    known: Sequence[Evidence] | None = None,
    *,
    higher_is_better: bool = True,
    worthwhile_pct: float = 1.0,
) -> DataCheck:
    """Check the data behind a fit of `ResponseModel`, with the same result every time.

    Parameters
    ----------
    fit : SquadFit
    known : sequence of Evidence, optional
        The result of `evidence_of(fit)`, if you already have it.
    higher_is_better : bool
        As in the model.
    worthwhile_pct : float
        Smaller shifts of everybody are not reported.

    Notes
    -----
    `day` of the efforts is in days, its whole part the calendar day.
    """
    with threadpool_limits(1):
        known = evidence_of(fit) if known is None else known
        look = _Look(fit, known, 1.0 if higher_is_better else -1.0, worthwhile_pct)
        return look.check()


class _Look:
    """One check of the data, whose steps share what they know."""

    def __init__(
        self, fit: SquadFit, known: Sequence[Evidence], sign: float, worthwhile_pct: float
    ) -> None:
        self.fit, self.known, self.sign = fit, known, sign
        self.least = float(np.log1p(worthwhile_pct / 100.0))
        self.value = np.concatenate([one.rows.value for one in known])
        self.athletes = [one.rows.athlete for one in known]

    def check(self) -> DataCheck:
        levels = session_levels(self.known, self.fit.learned.noise)
        units = [
            *sessions_in_another_unit(levels, self.sign),
            *athletes_in_another_unit(levels, self.sign),
        ]
        doubled = doubled_sessions(levels, self.sign * self.value, self.fit.learned.level_sd)
        wrong = {s for fault in units for s in fault.sessions}
        shifts, total = device_shifts(levels, wrong, self.least)
        # Report a shift of all once, and take it out before the other checks.
        rest = levels.shifted(total) if shifts else levels
        swaps = [
            fault
            for fault in swapped_sessions(rest, self._curve_at)
            if not wrong & set(fault.sessions)
        ]
        wrong |= {s for fault in swaps for s in fault.sessions}
        jumps = [fault for fault in sessions_apart(rest) if not wrong & set(fault.sessions)]
        efforts = efforts_apart(rest)
        findings = [
            *(self._of_sessions("unit", levels, fault) for fault in units),
            *(self._of_swap(rest, fault) for fault in swaps),
            *(self._of_sessions("duplicate", levels, fault) for fault in doubled),
            *(self._of_shift(levels, shift) for shift in shifts),
            *(self._of_sessions("jump", rest, fault) for fault in jumps),
            *self._of_efforts(rest, efforts),
        ]
        findings.sort(key=lambda one: (one.chance, KINDS.index(one.kind), one.rows))
        return DataCheck(tuple(findings), efforts.tail.limit(EFFORT_CHANCE))

    def _curve_at(self, athlete: int, volume: FloatArray) -> FloatArray:
        posterior = next(
            p
            for p in self.fit.posteriors
            if p.rows is not None and p.rows.athlete == self.athletes[athlete]
        )
        return np.asarray(self.fit.curves(posterior, volume).mean(axis=1))

    def _values(self, transformed: FloatArray) -> FloatArray:
        return np.asarray(np.exp(self.sign * transformed))

    def _of_efforts(self, levels: SessionLevels, efforts: EffortsApart) -> Iterable[Finding]:
        chance = efforts.tail.chance(efforts.z)
        counts = np.bincount(levels.owner)
        for e in np.flatnonzero(chance <= EFFORT_CHANCE):
            owner, apart = levels.owner[e], float(efforts.apart[e])
            noise = float(levels.effort_noise[owner])
            row = (int(levels.row[e]),)
            yield Finding(
                kind="effort",
                athlete=self.athletes[owner],
                other_athlete=None,
                rows=row,
                key_rows=row,
                expected=(float(self._values(self.value[e] - apart)),),
                apart_pct=self._percent(apart),
                noise_pct=float(100.0 * np.expm1(noise)),
                noise_count=int(counts[owner]),
                chance=min(float(chance[e]) * len(chance), 1.0),
                factor=nearest_factor(apart, noise, self.sign),
            )

    def _of_sessions(self, kind: str, levels: SessionLevels, fault: SessionFault) -> Finding:
        first = fault.sessions[0]
        expected = self.value - levels.residual + levels.reference[levels.session]
        if kind == "unit":
            expected = self.value - fault.apart
        if kind == "duplicate":
            expected = self.value
        return self._finding(kind, levels, fault, self._values(expected), first)

    def _of_swap(self, levels: SessionLevels, fault: SessionFault) -> Finding:
        """Make a finding of a swap; expected values are of the athlete named on each session."""
        expected = self._values(self.value - levels.residual + levels.reference[levels.session])
        return self._finding("swap", levels, fault, expected, fault.sessions[0])

    def _of_shift(self, levels: SessionLevels, shift: DeviceShift) -> Finding:
        efforts = levels.efforts_of(shift.sessions)
        first_day = levels.efforts_of(shift.first_day)
        return Finding(
            kind="device",
            athlete=None,
            other_athlete=None,
            rows=_places(levels.row[efforts]),
            key_rows=_places(levels.row[first_day]),
            expected=tuple(self._values(self.value[efforts] - shift.shift).tolist()),
            apart_pct=self._percent(shift.shift),
            noise_pct=float(100.0 * np.expm1(shift.noise)),
            noise_count=levels.sessions,
            chance=shift.chance,
            stays=shift.stays,
        )

    def _finding(
        self,
        kind: str,
        levels: SessionLevels,
        fault: SessionFault,
        expected: FloatArray,
        first: int,
    ) -> Finding:
        efforts = levels.efforts_of(fault.sessions)
        owners = [int(levels.session_owner[s]) for s in fault.sessions]
        owner, other = owners[0], owners[-1]
        rows = _places(levels.row[efforts])
        return Finding(
            kind=kind,
            athlete=self.athletes[owner],
            other_athlete=self.athletes[other] if other != owner else None,
            rows=rows,
            key_rows=rows,
            expected=tuple(expected[efforts].tolist()),
            apart_pct=self._percent(fault.apart),
            noise_pct=float(100.0 * np.expm1(np.sqrt(levels.variance[first]))),
            noise_count=int(levels.others[first]) + 1,
            chance=fault.chance,
            factor=fault.factor,
        )

    def _percent(self, apart: float) -> float:
        return float(100.0 * np.expm1(self.sign * apart))


def _places(rows: IntArray) -> tuple[int, ...]:
    return tuple(rows.tolist())
