"""Curve families on a grid.

A family is a set of curves that are linear in a few amplitudes once their shape is chosen::

    f(v) = sum_j  amplitude_j(cell) * basis_j(v; shape of the cell)

Everything that is linear integrates out of the model exactly (see `likelihood`), so a family
only has to say which shapes and amplitudes its grid holds. Cells are laid out as
(form, coordinates): a form is a choice the squad shares out in unknown proportions, and the
coordinates are what the squad's athletes are normally distributed in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "Bend",
    "CurveFamily",
    "DataRange",
    "Exponential",
    "Grid",
    "Hyperprior",
    "Power",
    "ResponseFamily",
    "RiseAndFall",
    "Side",
    "Step",
    "even_axes",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

DROP = 0.10
"""`hold` is the volume from the peak until performance is down by this share."""

LOG_DROP = -np.log1p(-DROP)

LEAST_WIDTH = 1e-3
"""Smallest share of the widest range that a grid is laid over."""


@dataclass(frozen=True)
class Hyperprior:
    """What is thought of the squad before its data: a normal and an inverse Wishart.

    Attributes
    ----------
    mean, mean_sd : arrays of shape (n_coordinates,)
        Where the squad's mean is expected, and how loosely.
    covariance : array of shape (n_coordinates, n_coordinates)
        The spread across athletes expected before any data.
    athletes : float
        How many athletes' worth of evidence `covariance` counts for.
    """

    mean: FloatArray
    mean_sd: FloatArray
    covariance: FloatArray
    athletes: float


@dataclass(frozen=True)
class DataRange:
    """The facts of a data set that a grid must follow.

    Attributes
    ----------
    lowest_volume, highest_volume : float
        Smallest volume above 0 and largest volume tried by anyone.
    typical_volume : float
        Geometric mean of the volumes above 0.
    swing : float
        Largest robust range of one athlete's transformed values within a session.
    noise : float
        First guess at the standard deviation of an effort.
    """

    lowest_volume: float
    highest_volume: float
    typical_volume: float
    swing: float
    noise: float

    @property
    def peaks(self) -> tuple[float, float]:
        """Least and largest best volume that the data can bear on."""
        # One volume far above all others must not take the small ones from everybody.
        small = min(self.highest_volume / 500, self.typical_volume / 50)
        return max(0.7 * self.lowest_volume, small), 2.5 * self.highest_volume

    @property
    def gains(self) -> tuple[float, float]:
        """Least and largest gain that the data can bear on, as a change of the log."""
        return 0.1 * self.noise, max(2.0 * self.swing, 4.0 * self.noise)


@dataclass(frozen=True)
class Grid:
    """The cells of a family.

    Attributes
    ----------
    axes : tuple of arrays
        The nodes of each coordinate, evenly spaced.
    names : tuple of str
        The coordinates' names.
    forms : int
        Number of forms.
    node : tuple of arrays of shape (n_shapes,)
        For each basis function, which of its nodes a shape uses; shapes are laid out
        (form, leading coordinates).
    amplitude : array of shape (n_groups, n_amplitudes, n_basis)
        Amplitudes of the trailing coordinates; shapes take the groups in turn, so that shape s
        belongs to group s modulo n_groups.
    coordinates : array of shape (n_cells_per_form, n_coordinates)
        Derived: the coordinates of every cell of a form.
    cell_volume : float
        Derived: the volume of one cell in coordinates.
    """

    axes: tuple[FloatArray, ...]
    names: tuple[str, ...]
    forms: int
    node: tuple[IntArray, ...]
    amplitude: FloatArray
    coordinates: FloatArray = field(init=False)
    cell_volume: float = field(init=False)

    def __post_init__(self) -> None:
        mesh = np.meshgrid(*self.axes, indexing="ij")
        object.__setattr__(self, "coordinates", np.stack([axis.ravel() for axis in mesh], axis=1))
        steps = [axis[1] - axis[0] for axis in self.axes]
        object.__setattr__(self, "cell_volume", float(np.prod(steps)))

    @property
    def shapes(self) -> int:
        """Number of shapes, over all forms."""
        return len(self.node[0])

    @property
    def cells_per_form(self) -> int:
        """Number of coordinate cells, the same for every form."""
        return len(self.coordinates)

    @property
    def amplitudes(self) -> int:
        """Number of amplitude settings a shape is combined with."""
        return self.amplitude.shape[1]


class CurveFamily(Protocol):
    """What the engine asks of a family of curves."""

    def grid(self, data: DataRange, around: tuple[FloatArray, FloatArray] | None = None) -> Grid:
        """Lay out the grid, from the data's range or around (lowest, highest) coordinates."""
        ...

    def basis(self, grid: Grid, j: int, volume: FloatArray) -> FloatArray:
        """Evaluate basis function j: array of shape (n_volumes, n_nodes_j)."""
        ...

    def hyperprior(self, data: DataRange) -> Hyperprior | None:
        """Say what is thought of the squad before its data, or None for nothing."""
        ...


class ResponseFamily(CurveFamily, Protocol):
    """A family of warm-up responses: what is read off its cells.

    The first coordinate is the log of best volume, and `gain` says which one is the log of gain.
    """

    @property
    def gain(self) -> int:
        """Which coordinate is the log of gain."""
        ...

    def log_hold(self, grid: Grid) -> FloatArray:
        """Log of hold in every cell: array of shape (n_cells_per_form,)."""
        ...

    def curves(self, form: IntArray, coordinates: FloatArray, volume: FloatArray) -> FloatArray:
        """Evaluate curves anywhere, on a grid or between its nodes.

        Parameters
        ----------
        form : array of shape (n_curves,)
        coordinates : array of shape (n_curves, n_coordinates)
        volume : array of shape (n_volumes,)

        Returns
        -------
        array of shape (n_volumes, n_curves)
            Log performance against the curve's own peak.
        """
        ...


def even_axes(
    widest: tuple[FloatArray, FloatArray],
    around: tuple[FloatArray, FloatArray] | None,
    coarse: Sequence[int],
    fine: Sequence[int],
) -> tuple[FloatArray, ...]:
    """Space nodes evenly over the widest range, or as far as one laid around something reaches.

    Parameters
    ----------
    widest, around : tuples of two arrays of shape (n_coordinates,)
        Lowest and highest coordinates.
    coarse, fine : sequences of int
        Nodes of each coordinate: over the widest range, and around something.
    """
    low, high = widest
    if around is not None:
        # Volumes in effect, and the widest range with them, may have left what is around.
        least = LEAST_WIDTH * (high - low)
        low, high = np.clip(around[0], low, high - least), np.clip(around[1], low + least, high)
    counts = coarse if around is None else fine
    ends = zip(low, high, counts, strict=True)
    return tuple(np.linspace(lowest, highest, count) for lowest, highest, count in ends)


class Side(Protocol):
    """One side of a curve: how far below the peak, at a distance from it.

    Distances are shares of the peak's own volume, so the sides have no unit; the scale of the
    answer is free.
    """

    def __call__(self, distance: FloatArray) -> FloatArray:
        """Evaluate at distances of 0 or more; 0 at 0 and rising."""
        ...


@dataclass(frozen=True)
class Power:
    """``x ** exponent``: below 1 steepest at the peak, above 1 flattest there."""

    exponent: float

    def __call__(self, distance: FloatArray) -> FloatArray:
        """Evaluate; see `Side`."""
        return distance**self.exponent


@dataclass(frozen=True)
class Exponential:
    """``exp(rate * x) - 1 - rate * x``: leaves the peak like a parabola.

    With a positive rate it is a saturating rise seen from its end, with a negative one it goes
    over into a straight line; both together are a saturating rise less a linear fatigue.
    """

    rate: float

    def __call__(self, distance: FloatArray) -> FloatArray:
        """Evaluate; see `Side`."""
        scaled = self.rate * distance
        return np.expm1(scaled) - scaled


@dataclass(frozen=True)
class Bend:
    """``(1 + (x / width) ** 4) ** (1 / 4) - 1``: a plateau as wide as `width`, then a line."""

    width: float

    def __call__(self, distance: FloatArray) -> FloatArray:
        """Evaluate, small distances with all their digits; see `Side`."""
        return np.expm1(np.log1p((distance / self.width) ** 4) / 4.0)


@dataclass(frozen=True)
class Step:
    """``z ** 2 / (1 + z ** 2)`` with z = x / width: leaves like a parabola, then levels off."""

    width: float

    def __call__(self, distance: FloatArray) -> FloatArray:
        """Evaluate without overflow at large distances; see `Side`."""
        ratio = distance / self.width
        return (ratio / np.hypot(1.0, ratio)) ** 2


@dataclass(frozen=True)
class RiseAndFall:
    """Rise to a peak, then fall, with separate shapes on either side.

    ``f(v) = -gain * rise(1 - v / best) / rise(1)`` before the peak and
    ``f(v) = -log(1 / 0.9) * fall(v / best - 1) / fall(hold / best)`` after it, in log
    performance, so that f(best) = 0, f(0) = -gain and f(best + hold) is 10 % down. The
    coordinates are (log best, log gain, log hold); a form is a pair of sides. Sides steep at
    the peak make it sharp, flat ones make a plateau, a tiny gain no rise at all, and a huge
    hold no fall within reach.

    Attributes
    ----------
    rises, falls : tuples of Side
        The choices on either side.
    nodes, coarse_nodes : tuples of int
        Grid nodes for (best, gain, hold) in the final and in the first, wide pass.
    """

    rises: tuple[Side, ...] = (
        Power(1.0),
        Power(1.4),
        Exponential(2.0),
        Bend(0.4),
    )
    falls: tuple[Side, ...] = (
        Power(0.7),
        Power(1.0),
        Exponential(-0.7),
        Exponential(-3.0),
        Bend(0.4),
        Step(0.4),
        Step(1.2),
    )
    nodes: tuple[int, int, int] = (14, 7, 8)
    coarse_nodes: tuple[int, int, int] = (22, 7, 8)
    names: tuple[str, ...] = ("log_best", "log_gain", "log_hold")
    gain: int = 1

    def widest(self, data: DataRange) -> tuple[FloatArray, FloatArray]:
        """Give the lowest and highest coordinates that the data can bear on."""
        (least, most), (smallest, largest) = data.peaks, data.gains
        low = np.log([least, smallest, 0.3 * least])
        high = np.log([most, largest, 30.0 * data.highest_volume])
        return low, high

    def grid(self, data: DataRange, around: tuple[FloatArray, FloatArray] | None = None) -> Grid:
        """Lay out the grid; see `CurveFamily.grid`."""
        axes = even_axes(self.widest(data), around, self.coarse_nodes, self.nodes)
        p, q, b = (
            index.ravel()
            for index in np.meshgrid(
                np.arange(len(self.rises)),
                np.arange(len(self.falls)),
                np.arange(len(axes[0])),
                indexing="ij",
            )
        )
        best = len(axes[0])
        gain, hold = (a.ravel() for a in np.meshgrid(*axes[1:], indexing="ij"))
        # At hold, each node of the fall must be 10 % down: (n_falls * n_best, n_amplitudes).
        at_hold = self._falls(np.exp(hold)[:, None], np.exp(axes[0])).T
        rise = np.broadcast_to(-np.exp(gain), at_hold.shape)
        return Grid(
            axes=axes,
            names=self.names,
            forms=len(self.rises) * len(self.falls),
            node=(p * best + b, q * best + b),
            amplitude=np.stack([rise, -LOG_DROP / at_hold], axis=2),
        )

    def _falls(self, past: FloatArray, peak: FloatArray) -> FloatArray:
        """Evaluate every fall at volumes past the peak: (n_volumes, n_falls * n_best)."""
        distance = past / peak
        return np.concatenate([fall(distance) for fall in self.falls], axis=1)

    def basis(self, grid: Grid, j: int, volume: FloatArray) -> FloatArray:
        """Evaluate the rise (j = 0) or the fall (j = 1); see `CurveFamily.basis`."""
        peak = np.exp(grid.axes[0])[None, :]
        v = np.asarray(volume, dtype=float)[:, None]
        if j == 0:
            way_to_go = np.clip(1.0 - v / peak, 0.0, None)
            cold = np.ones(1)
            return np.concatenate([rise(way_to_go) / rise(cold) for rise in self.rises], axis=1)
        return self._falls(np.clip(v - peak, 0.0, None), peak)

    def log_hold(self, grid: Grid) -> FloatArray:
        """Log of hold in every cell; see `ResponseFamily.log_hold`."""
        return grid.coordinates[:, 2]

    def curves(self, form: IntArray, coordinates: FloatArray, volume: FloatArray) -> FloatArray:
        """Evaluate curves anywhere; see `ResponseFamily.curves`."""
        best, gain, hold = np.exp(coordinates.T)
        share = np.asarray(volume, dtype=float)[:, None] / best
        before, past = np.clip(1.0 - share, 0.0, None), np.clip(share - 1.0, 0.0, None)
        total = np.empty_like(share)
        which_rise, which_fall = np.divmod(form, len(self.falls))
        for number, rise in enumerate(self.rises):
            own = which_rise == number
            total[:, own] = -gain[own] * rise(before[:, own]) / rise(np.ones(1))
        for number, fall in enumerate(self.falls):
            own = which_fall == number
            total[:, own] -= LOG_DROP * fall(past[:, own]) / fall(hold[own] / best[own])
        return total

    def hyperprior(self, data: DataRange) -> Hyperprior:
        """Expect the peak and the hold near the volumes tried, and a gain of some per cent.

        Only how strongly is a judgement (common practice, no source): the spreads allow a
        factor of about 2 between athletes, with the weight of four athletes; who peaks late
        is expected to last longer as well; and the means may be off by a factor of 4 or more.
        """
        volume = np.log(data.typical_volume)
        sd = np.array([0.7, 0.5, 0.6])
        together = np.array([[1.0, 0.0, 0.6], [0.0, 1.0, 0.0], [0.6, 0.0, 1.0]])
        return Hyperprior(
            mean=np.array([volume, np.log(0.06), volume + np.log(2.0)]),
            mean_sd=np.array([1.5, 1.2, 1.5]),
            covariance=together * np.outer(sd, sd),
            athletes=4.0,
        )
