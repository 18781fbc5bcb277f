"""What a fit has learned of the squad, and its form as plain numbers, to write and read again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, is_dataclass
from types import UnionType
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

import numpy as np
from numpy.typing import NDArray

from modeling.curve.shapes import Grid
from modeling.efforts.observations import AthleteRows
from modeling.efforts.session_model import NoiseSizes
from modeling.fit.pooling import NormalAcross, grid_log_density
from modeling.fit.shared import SharedEffects

__all__ = ["Learned", "plain", "read_plain"]

LEAST_LOG_PRIOR = -650.0
"""No cell is impossible: the efforts of an athlete unlike any other must still count."""

Read = TypeVar("Read")


@dataclass(frozen=True)
class Learned:
    """What a fit has learned of the squad so far; held fixed while athletes are weighed.

    Attributes
    ----------
    noise : NoiseSizes
    across : NormalAcross
        Distribution of the coordinates across athletes.
    form_weight : array of shape (n_forms,)
        Proportions of the forms, for an athlete they were not learned from.
    level : NormalAcross
        Distribution of the level; if the level follows the curve, jointly with the coordinates.
    shared : SharedEffects
        Effects of contexts and circumstances on the level, and the account's constants.
    pooled : bool
        Whether `across` is the prior of the cells; otherwise they are all equally likely.
    """

    noise: NoiseSizes
    across: NormalAcross
    form_weight: FloatArray
    level: NormalAcross
    shared: SharedEffects
    pooled: bool

    @property
    def level_mean(self) -> float:
        """Mean level of the squad."""
        return float(self.level.mean[0])

    @property
    def level_follows_curve(self) -> bool:
        """Whether the level is correlated with the coordinates."""
        return len(self.level.mean) > 1

    @property
    def level_sd(self) -> float:
        """Spread of the level given the coordinates."""
        covariance = self.level.covariance
        variance = covariance[0, 0]
        if self.level_follows_curve:
            variance -= covariance[0, 1:] @ np.linalg.solve(covariance[1:, 1:], covariance[1:, 0])
        return float(np.sqrt(max(variance, 0.0)))

    @property
    def sizes(self) -> FloatArray:
        """Sizes whose moves tell whether a fit has settled, shape (n_sizes,)."""
        noise, across = self.noise, self.across
        return np.concatenate(
            [
                # Day and drift can stand in for each other; their sum is what matters.
                [noise.effort, np.hypot(noise.day, noise.drift)],
                self.level.sd,
                across.mean if self.pooled else [],
                across.sd if self.pooled else [],
            ]
        )

    def forms_of(self, rows: list[AthleteRows]) -> FloatArray:
        """Give everybody the squad's proportions of the forms: (n_athletes, n_forms)."""
        return np.tile(self.form_weight, (len(rows), 1))

    def level_shift(self, grid: Grid) -> FloatArray | None:
        """Say how the level's mean moves with the coordinates of the cells, if it does."""
        if not self.level_follows_curve:
            return None
        covariance = self.level.covariance
        slope = np.linalg.solve(covariance[1:, 1:], covariance[1:, 0])
        return (grid.coordinates - self.across.mean) @ slope

    def cell_log_prior(self, grids: list[Grid]) -> FloatArray:
        """Log probability of each cell's coordinates: (n_grids, n_cells_per_form)."""
        if not self.pooled:
            cells = grids[0].cells_per_form
            return np.full((len(grids), cells), -np.log(cells))
        axes = [np.stack(each) for each in zip(*(grid.axes for grid in grids), strict=True)]
        log_prior = grid_log_density(axes, self.across)
        log_prior += np.log([[grid.cell_volume] for grid in grids])
        return np.maximum(log_prior, LEAST_LOG_PRIOR, out=log_prior)

    def centred(self, rows: AthleteRows) -> FloatArray:
        """Values less the level's mean and the shared effects, shape (n_efforts,)."""
        return rows.value - self.level_mean - self.shared.of_sessions(rows)[rows.session_index]


def plain(kept: Any) -> dict[str, Any]:
    """Turn a dataclass of numbers, arrays, mappings and such dataclasses into JSON's own types."""
    facts: dict[str, Any] = _listed(asdict(kept))
    return facts


def read_plain(kind: type[Read], facts: Mapping[str, Any]) -> Read:
    """Read back what `plain` gave.

    Raises
    ------
    KeyError, TypeError, ValueError
        If something is missing, is not a field, or has the wrong type.
    """
    hints = get_type_hints(kind)
    return kind(**{name: _read(hints[name], value) for name, value in facts.items()})


def _listed(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {name: _listed(each) for name, each in value.items()}
    return value.tolist() if isinstance(value, np.ndarray | np.generic) else value


def _read(hint: Any, value: Any) -> Any:
    if isinstance(hint, UnionType):
        hint = next(each for each in get_args(hint) if each is not type(None))
    if value is None:
        return None
    if is_dataclass(hint) and isinstance(hint, type):
        return read_plain(hint, value)
    if get_origin(hint) is tuple:
        return tuple(value)
    return np.asarray(value, dtype=float) if get_origin(hint) is np.ndarray else value


FloatArray = NDArray[np.float64]
