"""What the engine may assume, and what it learns."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray
from scipy.special import softmax

from modeling.compute.places import Parts, in_order
from modeling.compute.sums import streamed, together
from modeling.curve.shapes import CurveFamily, DataRange, Hyperprior, ResponseFamily
from modeling.efforts.cell_likelihood import curves_of_cells
from modeling.efforts.observations import AthleteRows
from modeling.efforts.spots import Misfit, Spots
from modeling.fit.drawn import Deviations, Drawn, draw_between_nodes
from modeling.fit.learned import Learned
from modeling.fit.pooling import log_density
from modeling.fit.posterior import Posterior, likely_cells
from modeling.fit.prior import SquadPrior
from modeling.fit.shared import BEFOREHAND, Beforehand

__all__ = ["EngineSettings", "SquadFit"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]


@dataclass(frozen=True)
class EngineSettings:
    """What the engine may assume.

    Attributes
    ----------
    family : CurveFamily
        The curves.
    pooled : bool
        Whether athletes inform each other; False gives flat priors on the grid.
    level : {"pooled", "none"}
        Whether athletes have a level of their own or the curve is all there is.
    level_follows_curve : bool
        Whether the level may be correlated with the coordinates.
    day_effects, drift, shared, heavy_tails : bool
        Which of the other terms are in the model.
    level_prior : Hyperprior or None
        Prior of the levels (one coordinate).
    rounds : int
        Most rounds on the final grid.
    tolerance : float
        The fit stops when no size or squad quantity moves by more than this share.
    curves : int
        Sampled curves per athlete.
    least_noise : float
        Floor of the effort and day noise: smaller ones make no difference.
    farthest_volume : float
        Volumes up to this matter even where nobody tried them.
    misfit : Misfit or None
        How far athletes and sessions may be from every curve of the family; None means not at
        all. Needs a `ResponseFamily`.
    prior : SquadPrior or None
        What other squads teach; None leaves the prior to the family.
    """

    family: CurveFamily
    pooled: bool = True
    level: str = "pooled"
    level_follows_curve: bool = False
    day_effects: bool = True
    drift: bool = True
    shared: bool = True
    heavy_tails: bool = True
    level_prior: Hyperprior | None = None
    rounds: int = 12
    tolerance: float = 0.01
    curves: int = 48
    least_noise: float = 0.0
    farthest_volume: float = 0.0
    misfit: Misfit | None = None
    prior: SquadPrior | None = None

    def hyperprior(self, data: DataRange) -> Hyperprior | None:
        """Give the squad's prior, from other squads or from the family."""
        if self.prior is None:
            return self.family.hyperprior(data)
        return self.prior.hyperprior(self.family, data)

    @property
    def beforehand(self) -> Beforehand:
        """Prior of the account's constants, from other squads or our own."""
        return BEFOREHAND if self.prior is None else self.prior.constants


@dataclass(frozen=True)
class SquadFit:
    """Everything learned: the squad's distribution, the noise, each athlete's posterior.

    Attributes
    ----------
    settings : EngineSettings
    data : DataRange
    learned : Learned
        Noise sizes, the squad's distribution, proportions of the forms, levels, shared effects.
    rows : tuple of AthleteRows
        Rows of the athletes fitted, with volumes in effect.
    posteriors : sequence of Posterior
        One of each athlete, in the same order.
    session_effects : tuple of arrays of shape (n_sessions,)
        Expected level, drift and day of each athlete's sessions together, shared effects included.
    rounds : int
        Rounds used.
    held : Parts or None
        Where the posteriors are while the fit's places are open; None once all are in this process.
    """

    settings: EngineSettings
    data: DataRange
    learned: Learned
    rows: tuple[AthleteRows, ...]
    posteriors: Sequence[Posterior]
    session_effects: tuple[FloatArray, ...]
    rounds: int
    held: Parts | None = None

    def each(self, function: Callable[..., Any], *arguments: Any) -> list[Any]:
        """Call a function on every athlete's posterior, at the place where it is.

        Parameters
        ----------
        function : callable
            Takes the fit (which may lack its athletes), a posterior and the arguments. It must be
            a module's own function, so that it can be sent to other processes.
        *arguments

        Returns
        -------
        list
            In the order of the rows.
        """
        if self.held is None:
            return [function(self, posterior, *arguments) for posterior in self.posteriors]
        return in_order(self.held.ask("of_each", function, arguments))

    def sum_of_each(self, function: Callable[..., Any], *arguments: Any) -> Any:
        """Do the same and add up the answers: arrays, or `compute.sums.Sums`."""
        if self.held is None:
            told = (function(self, posterior, *arguments) for posterior in self.posteriors)
            return together([streamed(told)])
        return together(self.held.ask("sum_of_each", function, arguments))

    @cached_property
    def believed(self) -> Learned:
        """What was learned, as athletes' posteriors use it.

        The squad's mean is itself uncertain, and with a misfit every effort tells less.
        """
        learned = self.learned
        if self.settings.pooled and not self.settings.level_follows_curve:
            learned = replace(learned, across=learned.across.widened())
        if self.settings.misfit:
            learned = replace(learned, noise=learned.noise.doubted(self.settings.misfit.believed))
        return learned

    @property
    def drawn_in(self) -> Deviations | None:
        """The space that curves are drawn in, if athletes may deviate from the family."""
        return self.space if self.settings.misfit else None

    @property
    def log_evidence(self) -> float:
        """Log marginal likelihood of all efforts."""
        return sum(p.log_evidence for p in self.posteriors)

    @property
    def tails(self) -> tuple[float, float]:
        """Degrees of freedom of efforts and days, infinite in a fit without heavy tails."""
        if not self.settings.heavy_tails:
            return np.inf, np.inf
        return self.learned.noise.effort_df, self.learned.noise.day_df

    def prior_posterior(self) -> Posterior:
        """Give the posterior of an athlete without data: the squad's own distribution.

        The squad's mean is itself uncertain, so that uncertainty is added to the spread.
        """
        wide = self.learned.across.widened()
        reach = 3.5 * wide.sd
        grid = self.settings.family.grid(self.data, (wide.mean - reach, wide.mean + reach))
        cell = softmax(log_density(grid.coordinates, wide))
        weight = (self.learned.form_weight[:, None] * cell).ravel()
        drawn = None
        if self.settings.misfit:
            form, coordinates = draw_between_nodes(weight, grid)
            coefficients = self.learned.noise.curve * self.space.coefficients(None)
            drawn = Drawn.of(self._family, form, coordinates, coefficients, self.space)
        cells, kept = likely_cells(weight)
        return Posterior(None, grid, cells, kept, 0.0, drawn, None)

    @cached_property
    def space(self) -> Deviations:
        """The smooth functions that deviations are made of."""
        return Deviations.of(self.data)

    def spots(self, rows: AthleteRows) -> Spots:
        """Find the spots of some rows."""
        return Spots.of(rows, self.data.typical_volume if self.settings.misfit else None)

    def curves(self, posterior: Posterior, volume: FloatArray) -> FloatArray:
        """Curves drawn from a posterior, at some volumes: (n_volumes, n_curves), 0 at the peak."""
        drawn = posterior.draws
        deviation = self.space.at(volume) @ drawn.coefficients
        change = self._family.curves(drawn.form, drawn.coordinates, volume) + deviation
        return np.minimum(change - drawn.top, 0.0)

    def curves_of_cells(
        self, posterior: Posterior, cells: IntArray, volume: FloatArray
    ) -> FloatArray:
        """Curves of flat cells, without deviations, at some volumes: (n_volumes, n_cells)."""
        return curves_of_cells(self.settings.family, posterior.grid, cells, volume)

    @property
    def _family(self) -> ResponseFamily:
        return cast(ResponseFamily, self.settings.family)
