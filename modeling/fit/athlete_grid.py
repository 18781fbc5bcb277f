"""One athlete's efforts on a grid of their own, and the prior of its cells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from modeling.curve.shapes import CurveFamily, Grid
from modeling.efforts.cell_likelihood import curves_of_cells
from modeling.efforts.observations import AthleteRows
from modeling.efforts.spots import Spots

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]


@dataclass(frozen=True)
class AthleteGrid:
    """An athlete's efforts, their own grid, and each basis function at the volumes they tried."""

    spots: Spots
    grid: Grid
    basis: tuple[FloatArray, ...]
    family: CurveFamily

    @classmethod
    def lay(cls, spots: Spots, grid: Grid, family: CurveFamily) -> AthleteGrid:
        """Evaluate the family's basis functions once for many rounds."""
        volumes, _ = spots.rows.tried
        basis = tuple(family.basis(grid, j, volumes) for j in range(len(grid.node)))
        return cls(spots, grid, basis, family)

    @property
    def rows(self) -> AthleteRows:
        """The efforts."""
        return self.spots.rows

    def curves(self, cells: IntArray) -> FloatArray:
        """Curves of flat cells at the athlete's efforts: (n_efforts, n_cells)."""
        grid = self.grid
        shape, setting = np.divmod(cells, grid.amplitudes)
        volumes, place = self.rows.tried
        total = np.zeros((len(volumes), len(cells)))
        for j, (basis, node) in enumerate(zip(self.basis, grid.node, strict=True)):
            total += basis[:, node[shape]] * grid.amplitude[shape % len(grid.amplitude), setting, j]
        return total[place]

    def slopes(self, cells: IntArray) -> FloatArray:
        """Slopes of flat cells' curves at the athlete's efforts, by volume: (n_efforts, n_cells).

        The step is about a hundredth of the volume, so a sharp peak counts with its average
        slope.
        """
        step = 0.01 * self.rows.volume + 0.001 * (self.rows.volume.max() or 1.0)
        ahead, behind = (
            curves_of_cells(self.family, self.grid, cells, volume)
            for volume in (self.rows.volume + step, np.maximum(self.rows.volume - step, 0.0))
        )
        reached = step + np.minimum(step, self.rows.volume)
        return (ahead - behind) / reached[:, None]


@dataclass(frozen=True)
class TailWeights:
    """Weights that heavy tails give one athlete's efforts and days."""

    effort: FloatArray
    day: FloatArray

    @classmethod
    def even(cls, rows: AthleteRows) -> TailWeights:
        """Give every effort and every day the same weight."""
        return cls(np.ones(rows.efforts), np.ones(len(rows.sessions)))


@dataclass(frozen=True)
class CellPrior:
    """Prior of one athlete's cells.

    Attributes
    ----------
    log_coordinates : array of shape (n_cells_per_form,)
        Log probability of each cell's coordinates, from `Learned.cell_log_prior`.
    forms : array of shape (n_forms,)
        Proportions of the forms among the other athletes of the squad.
    """

    log_coordinates: FloatArray
    forms: FloatArray
