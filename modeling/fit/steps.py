"""The fit under way: the steps that a round of the engine is made of."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from joblib import Parallel, delayed
from numpy.typing import NDArray
from scipy.special import softmax

from modeling.curve.shapes import CurveFamily, DataRange, Grid
from modeling.efforts.data_range import data_range
from modeling.efforts.observations import AthleteRows
from modeling.efforts.session_model import NoiseSizes
from modeling.efforts.spots import Spots
from modeling.errors import AthleteError
from modeling.fit.athlete_grid import AthleteGrid, CellPrior, TailWeights
from modeling.fit.drawn import Deviations
from modeling.fit.expectation import AthleteMoments, expect, log_evidence, posterior
from modeling.fit.first_guess import first_guess
from modeling.fit.learned import Learned
from modeling.fit.learning import (
    learn_effects,
    learn_level,
    learn_noise,
    learn_squad,
    learn_tails,
    weights_in_tails,
)
from modeling.fit.posterior import Posterior, plausible_range
from modeling.fit.shared import SharedEffects
from modeling.fit.squad_fit import EngineSettings, SquadFit

__all__ = ["JUDGED_AT", "Rounds"]

FloatArray = NDArray[np.float64]

SETTLED_AFTER = 6
"""Rounds after which a shared constant may be found to have no effect."""

JUDGED_AT = 7
"""Round on athletes' own grids in which it is judged which constants the data tell. A fit takes
at least as many, and more if that moves a constant."""

SHARED_WEIGHT = 0.05
"""What a move of a shared effect by its own uncertainty counts as beside the sizes' shares."""


@dataclass
class Rounds:
    """The fit under way; every method is a step of a round."""

    rows: list[AthleteRows]
    settings: EngineSettings
    data: DataRange
    learned: Learned
    weights: list[TailWeights]
    forms: FloatArray
    jobs: int | None = None
    done: int = 0
    fine_rounds: int = 0
    own: list[AthleteGrid] = field(default_factory=list)
    moments: list[AthleteMoments] = field(default_factory=list)
    weighed_on: list[Grid] = field(default_factory=list)
    weighed_with: tuple[NoiseSizes, list[TailWeights]] = field(init=False)
    fine: bool = False

    @classmethod
    def begin(
        cls,
        rows: list[AthleteRows],
        settings: EngineSettings,
        shared: SharedEffects,
        jobs: int | None,
    ) -> Rounds:
        """Start from the data's range and the family's hyperprior, on the wide grid."""
        data = data_range(rows, settings.farthest_volume, settings.least_noise)
        grid = settings.family.grid(data)
        learned = first_guess(rows, settings, data, grid, shared)
        state = cls(
            rows=rows,
            settings=settings,
            data=data,
            learned=learned,
            weights=[TailWeights.even(r) for r in rows],
            forms=learned.forms_of(rows),
            jobs=jobs,
        )
        state._lay([grid] * len(rows))
        return state

    def again(self, family: CurveFamily) -> Rounds:
        """Start another family with what this one has taught of all but the curves."""
        settings = replace(self.settings, family=family)
        grid = family.grid(self.data)
        learned = replace(
            first_guess(self.rows, settings, self.data, grid, self.learned.shared),
            noise=self.learned.noise,
            level=self.learned.level,
        )
        state = replace(
            self,
            settings=settings,
            learned=learned,
            forms=learned.forms_of(self.rows),
            fine=False,
            fine_rounds=0,
        )
        state._lay([grid] * len(self.rows))
        return state

    @classmethod
    def resume(cls, fit: SquadFit, rows: list[AthleteRows]) -> Rounds:
        """Start from what a fit learned, for other rows, on grids of their own."""
        state = cls(
            rows=_under(rows, fit.learned.shared),
            settings=fit.settings,
            data=fit.data,
            learned=fit.learned,
            weights=[TailWeights.even(r) for r in rows],
            forms=fit.learned.forms_of(rows),
        )
        state._place()
        state._lay_fine_grids()
        return state

    def among(self, rows: list[AthleteRows]) -> Rounds:
        """Start from what some have taught, with everybody on the wide grid."""
        rows = _under(rows, self.learned.shared)
        state = replace(
            self,
            rows=rows,
            data=data_range(rows, self.settings.farthest_volume, self.settings.least_noise),
            weights=[TailWeights.even(r) for r in rows],
            forms=self.learned.forms_of(rows),
            fine=False,
        )
        state._place()
        return state

    def _place(self) -> None:
        """See where everybody is on the wide grid."""
        self._lay([self.settings.family.grid(self.data)] * len(self.rows))
        self.expect()

    def _lay(self, grids: list[Grid]) -> None:
        family = self.settings.family
        typical = self.data.typical_volume if self.settings.misfit else None
        self.own = [
            AthleteGrid.lay(Spots.of(r, typical), g, family)
            for r, g in zip(self.rows, grids, strict=True)
        ]

    def _each(
        self,
        function: Callable[..., Any],
        weights: list[TailWeights],
        learned: Learned,
        *more: Any,
    ) -> list[Any]:
        """Do something for every athlete, side by side where joblib may."""
        cells = learned.cell_log_prior([own.grid for own in self.own])
        priors = [CellPrior(*each) for each in zip(cells, self.forms, strict=True)]
        return list(
            Parallel(n_jobs=self.jobs, prefer="threads")(
                delayed(_of_one)(function, *each, learned, *more)
                for each in zip(self.own, weights, priors, strict=True)
            )
        )

    def round(self) -> float:
        """Do one round; return the largest relative move of any learned size."""
        self.done += 1
        self.fine_rounds += self.fine
        before = self.learned
        self.expect()
        self.learn_squad()
        self._learn_shared()
        self.learned = learn_level(self.learned, self.moments, self.settings)
        self.learned = learn_noise(self.learned, self.moments, self.settings, self.data)
        if self.settings.heavy_tails:
            self.reweigh(with_tails=True)
        scale = np.maximum(np.abs(before.sizes), 0.2 * self.learned.noise.effort)
        moved = float(np.max(np.abs(self.learned.sizes - before.sizes) / scale))
        return max(moved, SHARED_WEIGHT * self.learned.shared.moved_sds(before.shared))

    def log_evidence_over(self, other: Rounds) -> float:
        """Say how much likelier efforts are under this family, noise and weights being the same.

        The log of the Bayes factor. Weights follow from residuals and are part of the likelihood:
        with its own, the family that has been weighed for longer would win.
        """
        noise, weights = self.weighed_with
        learned = replace(other.learned, noise=noise)
        own = sum(m.log_evidence for m in self.moments)
        return float(own - sum(other._each(log_evidence, weights, learned)))

    def expect(self) -> None:
        """Weigh every athlete's cells under what has been learned."""
        self.weighed_on = [own.grid for own in self.own]
        self.weighed_with = self.learned.noise, self.weights
        self.moments = self._each(expect, self.weights, self.learned, self.settings.curves)
        for own, moments in zip(self.own, self.moments, strict=True):
            if np.isnan(moments.form_evidence).any():
                raise AthleteError(own.rows.athlete)

    def learn_squad(self) -> None:
        """EM for the squad's distribution and the forms, where they are learned."""
        if not self.settings.pooled:
            return
        grids = [own.grid for own in self.own]
        self.learned, self.forms = learn_squad(
            self.learned, self.forms, self.moments, grids, self.settings, self.data
        )

    def _learn_shared(self) -> None:
        """Newton step for effects on the level and for the account; volumes move along."""
        self.learned = learn_effects(
            self.learned,
            self.moments,
            self.settings,
            self.data,
            settled=self.fine and self.done > SETTLED_AFTER,
            judged=self.fine_rounds == JUDGED_AT,
        )
        shared = self.learned.shared
        if any(shared.constants):
            self.rows = _under(self.rows, shared)
            # Peaks move with the volumes: an athlete held at the end of an old grid would hold
            # the account too.
            if self.fine:
                self.lay_fine_grids()
            else:
                self._lay(self.weighed_on)

    def reweigh(self, *, with_tails: bool) -> None:
        """Give each effort and each day the weight its residual deserves."""
        if with_tails:
            self.learned = learn_tails(self.learned, self.moments)
        self.weights = weights_in_tails(self.learned.noise, self.moments)

    def lay_fine_grids(self) -> None:
        """Lay each athlete's grid over what their efforts and the squad make plausible."""
        if any(self.learned.shared.constants):
            # The account has moved the volumes since.
            self.data = data_range(
                self.rows, self.settings.farthest_volume, self.settings.least_noise
            )
        self._lay_fine_grids()

    def _lay_fine_grids(self) -> None:
        self.fine = True
        log_priors = self.learned.cell_log_prior(self.weighed_on)
        grids = []
        for grid, moments, log_prior in zip(self.weighed_on, self.moments, log_priors, strict=True):
            share = softmax(moments.log_over_forms + log_prior)
            box = share.reshape([len(axis) for axis in grid.axes])
            ends = [plausible_range(axis, box, d) for d, axis in enumerate(grid.axes)]
            low, high = np.array(ends).T
            grids.append(self.settings.family.grid(self.data, (low, high)))
        self._lay(grids)

    def posteriors(self) -> list[Posterior]:
        """Give every athlete's whole posterior, the squad's mean itself uncertain."""
        learned = self.learned
        if self.settings.pooled and not self.settings.level_follows_curve:
            learned = replace(learned, across=learned.across.widened())
        if self.settings.misfit:
            learned = replace(learned, noise=learned.noise.doubted(self.settings.misfit.believed))
        space = Deviations.of(self.data) if self.settings.misfit else None
        return self._each(posterior, self.weights, learned, space)

    def result(self) -> SquadFit:
        """Give what was learned."""
        return SquadFit(
            settings=self.settings,
            data=self.data,
            learned=self.learned,
            posteriors=tuple(self.posteriors()),
            session_effects=tuple(m.session_effects for m in self.moments),
            rounds=self.fine_rounds,
        )


def _of_one(function: Callable[..., Any], own: AthleteGrid, *more: Any) -> Any:
    """Do something for one athlete, and say whose efforts it was that broke it."""
    try:
        return function(own, *more)
    except (ArithmeticError, np.linalg.LinAlgError) as error:
        raise AthleteError(own.rows.athlete) from error


def _under(rows: list[AthleteRows], shared: SharedEffects) -> list[AthleteRows]:
    """Put rows under the account, where anything tells of its constants."""
    return [r.under(shared.account) for r in rows] if any(shared.constants) else rows
