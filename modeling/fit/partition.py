"""The athletes of a squad who are fitted in one place, with their rows and grids.

A partition is told what was learned of the squad and answers with sums. What it holds grows with
its athletes' efforts; what it is told and what it answers do not.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from copy import copy
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from modeling.compute.places import one_thread
from modeling.compute.sums import added, stacked, streamed
from modeling.curve.shapes import DataRange, Grid
from modeling.efforts.data_range import VolumesTried
from modeling.efforts.observations import AthleteRows
from modeling.efforts.session_model import NoiseSizes
from modeling.efforts.spots import Spots
from modeling.errors import AthleteError
from modeling.fit.athlete_grid import AthleteGrid, CellPrior, TailWeights
from modeling.fit.expectation import AthleteMoments, expect, log_evidence, posterior
from modeling.fit.learned import Learned
from modeling.fit.learning import RoundSums, SquadSums
from modeling.fit.noise import Residuals, TailSums, tail_weights
from modeling.fit.pooling import Moments, NormalSums, form_shares, others_forms
from modeling.fit.posterior import Posterior, grid_moments, plausible_range
from modeling.fit.shared import SharedEffects
from modeling.fit.shared_step import SharedSums
from modeling.fit.squad_fit import EngineSettings, SquadFit

__all__ = ["Partition", "Weighing", "WorkedOutAgain"]

FloatArray = NDArray[np.float64]
Ends = tuple[FloatArray, FloatArray]

BLOCK = 64
"""Athletes whose cells are worked on together: this is fast, and limits the memory needed."""

MOST_KEPT = 1000
"""Posteriors worked out again are cached for fits of up to so many athletes: some 150 MiB."""


@dataclass(frozen=True)
class Weighing:
    """What an athlete's cells are weighed with, besides what was learned of the squad.

    Attributes
    ----------
    ends : tuple of two arrays of shape (n_coordinates,), or None
        Lowest and highest coordinates that the athlete's grid is laid around; None for the wide
        grid.
    weights : TailWeights
    forms : array of shape (n_forms,)
        Proportions of the forms among the other athletes.
    """

    ends: Ends | None
    weights: TailWeights
    forms: FloatArray


class Partition:
    """Some athletes of a squad during a fit; every method is a step of a round.

    Parameters
    ----------
    rows : list of AthleteRows
    settings : EngineSettings
    data : DataRange
        The whole squad's.
    """

    def __init__(self, rows: list[AthleteRows], settings: EngineSettings, data: DataRange) -> None:
        self.rows, self.settings, self.data = rows, settings, data
        self.weights = [TailWeights.even(r) for r in rows]
        self.weighed_with = self.weights
        self.moments: list[AthleteMoments] = []
        self.weighed_on: list[Grid] = []
        self.posteriors: list[Posterior] = []
        self._first: Partition | None = None
        self._lay_wide()

    def _lay_wide(self) -> None:
        self._form_share = np.zeros((len(self.rows), 1))
        self._ends: list[Ends | None] = [None] * len(self.rows)
        self._lay([self.settings.family.grid(self.data)] * len(self.rows))

    def _lay(self, grids: Sequence[Grid]) -> None:
        family = self.settings.family
        typical = self.data.typical_volume if self.settings.misfit else None
        self.own: list[AthleteGrid] = []  # free the old grids first
        self.own = [
            AthleteGrid.lay(Spots.of(r, typical), grid, family)
            for r, grid in zip(self.rows, grids, strict=True)
        ]

    def try_family(self, settings: EngineSettings) -> None:
        """Start again with another family, on the wide grid; the first one's state is kept."""
        self._first = copy(self)
        self.settings = settings
        self._lay_wide()

    def keep_first(self) -> None:
        """Go back to the state before `try_family`."""
        self.__dict__.update(vars(self._first))

    def expect(self, learned: Learned, forms: FloatArray) -> RoundSums:
        """Weigh every athlete's cells under what has been learned.

        `forms` holds all athletes' shares of the forms, (n_forms,), as `learning.learn_squad`
        gives them.
        """
        self.weighed_on = [own.grid for own in self.own]
        self.weighed_with = self.weights
        self.moments = []  # free the last round's first
        self.moments = list(self._each(expect, learned, forms, self.settings.curves))
        self.evidence = np.stack([m.form_evidence for m in self.moments])
        for own, evidence in zip(self.own, self.evidence, strict=True):
            if np.isnan(evidence).any():
                raise AthleteError(own.rows.athlete)
        self.squared = (
            Residuals.of([m.squared_effort for m in self.moments]),
            Residuals.of([m.squared_day for m in self.moments]),
        )
        told = [m.shared for m in self.moments if m.shared is not None]
        every = RoundSums(
            level=self._of_levels(learned) if self.settings.level == "pooled" else None,
            sizes=stacked([m.sizes for m in self.moments]),
            shared=SharedSums.of(told) if told else None,
            log_evidence=np.array([m.log_evidence for m in self.moments]),
        )
        return added([every])

    def _of_levels(self, learned: Learned) -> NormalSums:
        mean = np.stack([m.level_mean for m in self.moments])
        covariance = np.stack([m.level_covariance for m in self.moments])
        return NormalSums.of(Moments(mean, covariance), learned.level)

    def learn_squad(self, forms: FloatArray, learned: Learned | None) -> SquadSums:
        """Say what athletes tell about forms and, given a distribution, about curves."""
        self._form_share = form_shares(self.evidence, others_forms(forms, self._form_share))
        across = None
        if learned is not None:
            across = added([self._of_curves(block, learned) for block in self._blocks()])
        return SquadSums(added([self._form_share]), across)

    def _of_curves(self, block: slice, learned: Learned) -> NormalSums:
        grids, share = self._shares(block, learned)
        axes = [np.stack(each) for each in zip(*(grid.axes for grid in grids), strict=True)]
        return NormalSums.of(grid_moments(share, axes), learned.across)

    def _shares(self, block: slice, learned: Learned) -> tuple[list[Grid], FloatArray]:
        """Give some athletes' grids, and the probabilities of their cells, forms averaged out."""
        grids = self.weighed_on[block]
        share = learned.cell_log_prior(grids)
        for own, moments in zip(share, self.moments[block], strict=True):
            own += moments.log_over_forms
        share -= share.max(axis=1, keepdims=True)
        np.exp(share, out=share)
        share /= share.sum(axis=1, keepdims=True)
        return grids, share

    def highest_volume(self) -> float:
        """Give the largest volume in effect."""
        return max(float(r.volume.max()) for r in self.rows)

    def volumes_tried(self, nothing: float) -> VolumesTried:
        """Sum up the volumes in effect for a data range; those up to `nothing` count as none."""
        return VolumesTried.of(self.rows, nothing)

    def under(self, shared: SharedEffects, laid_again: bool) -> None:
        """Work out the rows' volumes under the account; if asked, lay their last grids again."""
        self.rows = [r.under(shared.account) for r in self.rows]
        if laid_again:
            self._lay(self.weighed_on)

    def lay_fine(self, learned: Learned, data: DataRange) -> None:
        """Lay each athlete's grid over what their efforts and the squad make plausible."""
        self.data = data
        self._ends = [ends for block in self._blocks() for ends in self._plausible(block, learned)]
        self._lay([self.settings.family.grid(data, ends) for ends in self._ends])

    def _plausible(self, block: slice, learned: Learned) -> Iterator[Ends]:
        grids, shares = self._shares(block, learned)
        for grid, share in zip(grids, shares, strict=True):
            box = share.reshape(grid.sizes)
            low, high = np.array(
                [plausible_range(axis, box, d) for d, axis in enumerate(grid.axes)]
            ).T
            yield low, high

    def tails(self, scale: FloatArray, compared: bool) -> TailSums:
        """Say how heavy the tails of efforts and of days are."""
        return added([TailSums.of(self.squared, scale, compared=compared)])

    def reweigh(self, noise: NoiseSizes) -> None:
        """Give each effort and each day the weight its residual deserves."""
        self.weights = [
            TailWeights(
                tail_weights(m.squared_effort, noise.effort_df),
                tail_weights(m.squared_day, noise.day_df),
            )
            for m in self.moments
        ]

    def log_evidence(self, learned: Learned, forms: FloatArray) -> FloatArray:
        """Give the log marginal likelihood of the efforts, with the first family's weights."""
        told = self if self._first is None else self._first
        ours = copy(self)
        ours.weights = told.weighed_with
        return added([np.array(list(ours._each(log_evidence, learned, forms)))])

    def finish(self, learned: Learned, forms: FloatArray) -> list[Weighing]:
        """Work out every athlete's posterior from `SquadFit.believed`, and free the rest."""
        others = others_forms(forms, self._form_share)
        told = [Weighing(*each) for each in zip(self._ends, self.weights, others, strict=True)]
        self.fit = SquadFit(self.settings, self.data, learned, (), (), (), rounds=0)
        self.sessions = [(m.session_effects, m.session_variances) for m in self.moments]
        self.moments, self.weighed_on, self._first = [], [], None
        worked_out = self._each(posterior, self.fit.believed, forms, self.fit.drawn_in)
        for place, found in enumerate(worked_out):
            self.posteriors.append(found)
            self.own[place] = self.own[-1]  # free what the rounds needed
        self.own = []
        return told

    def session_moments(self) -> list[tuple[FloatArray, FloatArray]]:
        """Give each athlete's sessions' effects with their variances, from the last round."""
        return self.sessions

    def whole(self) -> list[Posterior]:
        """Give the posteriors themselves, to a caller in the same process."""
        return self.posteriors

    def of_each(self, function: Callable[..., Any], arguments: tuple[Any, ...]) -> list[Any]:
        """Call a function on every athlete's posterior; see `SquadFit.each`."""
        return [function(self.fit, each, *arguments) for each in self.posteriors]

    def sum_of_each(self, function: Callable[..., Any], arguments: tuple[Any, ...]) -> Any:
        """Do the same and add up the answers; see `SquadFit.sum_of_each`."""
        return streamed(function(self.fit, each, *arguments) for each in self.posteriors)

    def _blocks(self) -> Iterator[slice]:
        return (slice(start, start + BLOCK) for start in range(0, len(self.rows), BLOCK))

    def _each(
        self, function: Callable[..., Any], learned: Learned, forms: FloatArray, *more: Any
    ) -> Iterator[Any]:
        """Do something for every athlete; an error names the athlete whose efforts caused it."""
        others = others_forms(forms, self._form_share)
        for block in self._blocks():
            cells = learned.cell_log_prior([own.grid for own in self.own[block]])
            each = zip(self.own[block], self.weights[block], cells, others[block], strict=True)
            for own, weights, log_prior, forms_of_others in each:
                prior = CellPrior(log_prior, forms_of_others)
                try:
                    yield function(own, weights, prior, learned, *more)
                except (ArithmeticError, np.linalg.LinAlgError) as error:
                    raise AthleteError(own.rows.athlete) from error


class WorkedOutAgain(Sequence[Posterior]):
    """Posteriors of a fit done elsewhere: each is worked out again when it is asked for.

    Parameters
    ----------
    fit : SquadFit
    weighings : sequence of Weighing
        One of each athlete, in the order of the fit's rows.
    """

    def __init__(self, fit: SquadFit, weighings: Sequence[Weighing]) -> None:
        self._fit, self._weighings = fit, weighings
        self._kept: dict[int, Posterior] = {}

    def __len__(self) -> int:
        return len(self._weighings)

    def __getitem__(self, index: Any) -> Any:
        """Work out one of them, and cache it if there is room for all."""
        if index not in self._kept:
            found = self._worked_out(index)
            if len(self) > MOST_KEPT:
                return found
            self._kept[index] = found
        return self._kept[index]

    def _worked_out(self, index: int) -> Posterior:
        fit, told = self._fit, self._weighings[index]
        family, believed = fit.settings.family, fit.believed
        grid = family.grid(fit.data, told.ends)
        own = AthleteGrid.lay(fit.spots(fit.rows[index]), grid, family)
        prior = CellPrior(believed.cell_log_prior([grid])[0], told.forms)
        with one_thread():
            return posterior(own, told.weights, prior, believed, fit.drawn_in)
