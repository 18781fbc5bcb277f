"""Curves drawn from an athlete's posterior: a family's curve, and how the athlete deviates from it.

All results for an athlete are read off the same curves: where each peaks, how far it rises, how
long it holds, and what is lost at a volume. Given a curve of the family, the deviation is normal
(`spots`), so its mean and covariance follow in closed form. It is drawn in the space of a few
smooth functions (Nyström's approximation: Rasmussen & Williams 2006, section 8.1).

References
----------
Rasmussen & Williams (2006), Gaussian Processes for Machine Learning, MIT Press.
Rosenblatt (1952), Remarks on a multivariate transformation, Ann. Math. Stat. 23, 470-472.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from modeling.curve.rise_and_fall import LOG_DROP
from modeling.curve.shapes import DataRange, Grid, ResponseFamily
from modeling.efforts.session_model import SessionModel
from modeling.efforts.spots import LENGTH, SCALE_SHARE, alike, places

__all__ = ["CURVES", "Deviations", "Drawn", "draw_between_nodes", "even_sample", "evenly"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

CURVES = 500
"""Curves drawn for each athlete."""

FINE, ROUGH = 0.04, 0.15
"""Steps between the places where curves are evaluated: where peaks may be, and beyond."""

FARTHEST = 40.0
"""How far holds are followed, in units of the largest volume tried."""


def evenly(count: int) -> IntArray:
    """Give the indices of some of the curves drawn, at even steps: (count,)."""
    return ((np.arange(count) + 0.5) * CURVES / count).astype(int)


def even_sample(weight: FloatArray, count: int) -> IntArray:
    """Give the indices of `count` draws at even steps of cumulative weight."""
    cumulative = np.cumsum(weight)
    steps = (np.arange(count) + 0.5) / count * cumulative[-1]
    return np.searchsorted(cumulative, steps)


def draw_between_nodes(weight: FloatArray, grid: Grid) -> tuple[IntArray, FloatArray]:
    """Draw forms and coordinates by the weights of flat cells: the same every time.

    Coordinates are drawn one at a time, by their quantiles given those before (Rosenblatt 1952),
    at points spread evenly over the unit cube. Each cell's weight is spread evenly over the cell,
    so a tiny change in the data moves every curve only a little.

    Returns
    -------
    array of shape (`CURVES`,)
        Forms.
    array of shape (`CURVES`, n_coordinates)
        Coordinates.
    """
    sizes = [len(axis) for axis in grid.axes]
    table = np.moveaxis(weight.reshape(grid.forms, *sizes), 0, -1)
    found: list[IntArray] = []
    coordinates = []
    *shares, last = _evenly_spread(len(sizes) + 1)
    for share, axis in zip(shares, grid.axes, strict=True):
        mass = table.sum(axis=tuple(range(len(found) + 1, table.ndim)))[tuple(found)]
        node, within = _quantile(np.broadcast_to(mass, (CURVES, len(axis))), share)
        found.append(node)
        coordinates.append(axis[node] + (axis[1] - axis[0]) * (within - 0.5))
    form, _ = _quantile(table[tuple(found)], last)
    return form, np.stack(coordinates, axis=1)


def _evenly_spread(count: int) -> FloatArray:
    """Spread `CURVES` points over a unit cube: (count, CURVES).

    The first coordinate rises evenly; the others are Kronecker sequences, whose steps are
    powers of the root of x^count = x + 1 (for 2, the golden ratio).
    """
    root = 2.0
    for _ in range(40):
        root = (1.0 + root) ** (1.0 / count)
    steps = np.concatenate([[1.0 / CURVES], root ** -np.arange(1.0, count)])
    return (steps[:, None] * (np.arange(CURVES) + 0.5)) % 1.0


def _quantile(mass: FloatArray, share: FloatArray) -> tuple[IntArray, FloatArray]:
    """Find the node that holds a share of each row's mass, and how far into the node it is."""
    cumulative = np.cumsum(mass, axis=1)
    wanted = (share * cumulative[:, -1])[:, None]
    node = np.minimum((cumulative < wanted).sum(axis=1), mass.shape[1] - 1)
    every = np.arange(len(node))
    own = mass[every, node]
    within = (wanted[:, 0] - cumulative[every, node] + own) / np.where(own > 0, own, 1.0)
    return node, np.clip(within, 0.0, 1.0)


@dataclass(frozen=True)
class Deviations:
    """The smooth functions that deviations are made of, and where curves are evaluated.

    Attributes
    ----------
    typical_volume, highest_peak, farthest : float
        From the data's range.
    """

    typical_volume: float
    highest_peak: float
    farthest: float

    @classmethod
    def of(cls, data: DataRange) -> Deviations:
        """Cover the volumes that matter in a fit."""
        return cls(data.typical_volume, data.peaks[1], FARTHEST * data.highest_volume)

    @cached_property
    def volume(self) -> FloatArray:
        """Volumes at which curves are evaluated, rising from 0."""
        ends = places(np.array([self.highest_peak, self.farthest]), self.typical_volume)
        steps = np.concatenate([np.arange(0.0, ends[0], FINE), np.arange(ends[0], ends[1], ROUGH)])
        return np.expm1(steps) * SCALE_SHARE * self.typical_volume

    @cached_property
    def _nodes(self) -> tuple[FloatArray, FloatArray]:
        farthest = float(places(np.array([self.farthest]), self.typical_volume)[0])
        step = 0.75 * LENGTH
        nodes = np.arange(0.0, farthest + step, step)
        return nodes, np.linalg.inv(np.linalg.cholesky(alike(nodes, nodes)))

    @cached_property
    def everywhere(self) -> FloatArray:
        """The functions at `volume`: (n_volumes, n_functions)."""
        return self.at(self.volume)

    @cached_property
    def _normal(self) -> FloatArray:
        """Standard normal draws, the same for everybody: (n_functions, `CURVES`)."""
        return np.random.default_rng(0).standard_normal((len(self._nodes[0]), CURVES))

    def at(self, volume: FloatArray) -> FloatArray:
        """Evaluate the functions: (n_volumes, n_functions); coefficients are standard normal."""
        return self.at_places(places(volume, self.typical_volume))

    def at_places(self, place: FloatArray) -> FloatArray:
        """Evaluate the functions at places of `spots`."""
        nodes, unroot = self._nodes
        return alike(place, nodes) @ unroot.T

    def coefficients(
        self, model: SessionModel | None, means: FloatArray | None = None
    ) -> FloatArray:
        """Draw coefficients given what the efforts say: (n_functions, `CURVES`).

        Parameters
        ----------
        model : SessionModel or None
            None for an athlete without efforts.
        means : array of shape (n_spots, `CURVES`), optional
            The spots' means of the residuals from each curve.
        """
        if model is None or means is None:
            return self._normal
        at = model.noise.curve * self.at_places(model.spots.place)
        covariance = np.eye(at.shape[1]) - at.T @ model.told @ at
        values, ways = np.linalg.eigh(covariance)
        root = ways * np.sqrt(np.maximum(values, 0.0)) @ ways.T
        return at.T @ model.pull(means) + root @ self._normal


@dataclass(frozen=True)
class Drawn:
    """Curves drawn from one athlete's posterior.

    Attributes
    ----------
    form, coordinates : arrays of shape (n_curves,), (n_curves, n_coordinates)
        The curve of the family.
    coefficients : array of shape (n_functions, n_curves)
        Coefficients of the deviations, in units of performance.
    top : array of shape (n_curves,)
        Height of the peak above that of the family's curve.
    best, gain, hold : arrays of shape (n_curves,)
        Where each peaks, log performance from cold to peak, and volume from the peak until 10 %
        down.
    """

    form: IntArray
    coordinates: FloatArray
    coefficients: FloatArray
    top: FloatArray
    best: FloatArray
    gain: FloatArray
    hold: FloatArray

    @cached_property
    def usual_top(self) -> tuple[float, float]:
        """Median of `top`, and half of its central 68 %.

        A single curve that is drawn where the efforts rule it out would distort a mean.
        """
        low, middle, high = np.quantile(self.top, [0.16, 0.5, 0.84])
        return float(middle), float(high - low) / 2.0

    @classmethod
    def of(
        cls,
        family: ResponseFamily,
        form: IntArray,
        coordinates: FloatArray,
        coefficients: FloatArray,
        space: Deviations,
    ) -> Drawn:
        """Read peaks and holds off a family's curves with their deviations."""
        volume = space.volume
        change = family.curves(form, coordinates, volume)
        change += space.everywhere @ coefficients
        every = np.arange(change.shape[1])
        reach = int(np.searchsorted(volume, space.highest_peak, side="right"))
        peak = change[:reach].argmax(axis=0)
        top = change[peak, every]
        best = np.interp(peak + _to_top(change, peak, reach), np.arange(len(volume)), volume)
        below = (change <= top - LOG_DROP) & (np.arange(len(volume))[:, None] > peak)
        end = np.where(below.any(axis=0), below.argmax(axis=0), len(volume) - 1)
        high, low = change[end - 1, every], change[end, every]
        share = np.clip((high - (top - LOG_DROP)) / np.maximum(high - low, 1e-15), 0.0, 1.0)
        over = volume[end - 1] + share * (volume[end] - volume[end - 1])
        hold = np.maximum(over - best, 1e-9 * space.typical_volume)
        return cls(form, coordinates, coefficients, top, best, top - change[0], hold)


def _to_top(change: FloatArray, peak: IntArray, reach: int) -> FloatArray:
    """Count the steps from the highest node to the top of the parabola through its neighbours."""
    every = np.arange(change.shape[1])
    before = change[np.maximum(peak - 1, 0), every]
    after = change[np.minimum(peak + 1, len(change) - 1), every]
    bend = before - 2.0 * change[peak, every] + after
    move = np.clip(0.5 * (before - after) / np.minimum(bend, -1e-15), -0.5, 0.5)
    return np.where((peak > 0) & (peak < reach - 1), move, 0.0)
