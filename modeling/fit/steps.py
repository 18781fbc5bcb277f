"""The fit under way: the steps that a round of the engine is made of."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any, cast

import numpy as np
from joblib import Parallel, delayed
from numpy.typing import NDArray
from scipy.special import softmax

from modeling.curve.shapes import CurveFamily, DataRange, Grid, ResponseFamily
from modeling.efforts.data_range import data_range
from modeling.efforts.observations import AthleteRows
from modeling.efforts.session_model import NoiseSizes
from modeling.efforts.spots import Spots
from modeling.errors import AthleteError
from modeling.fit.drawn import Deviations
from modeling.fit.expectation import (
    AthleteGrid,
    AthleteMoments,
    CellPrior,
    Learned,
    TailWeights,
    expect,
    log_evidence,
    posterior,
)
from modeling.fit.noise import learn_sizes, tail_df, tail_weights
from modeling.fit.pooling import Moments, NormalAcross, form_weights, update_normal
from modeling.fit.posterior import Posterior, grid_moments, plausible_range
from modeling.fit.shared import SharedEffects, learn_shared
from modeling.fit.squad_fit import EngineSettings, SquadFit

__all__ = ["JUDGED_AT", "Rounds"]

FloatArray = NDArray[np.float64]

FORM_SMOOTHING = 0.15
"""Athletes' worth of evidence that each form starts with."""

SETTLED_AFTER = 6
"""Rounds after which a shared constant may be found to have no effect."""

JUDGED_AT = 7
"""Round on athletes' own grids in which it is judged which constants the data tell. A fit takes
at least as many, and more if that moves a constant."""

SHARED_WEIGHT = 0.05
"""What a move of a shared effect by its own uncertainty counts as beside the sizes' shares."""

SQUAD_STEPS = 8
"""Most EM steps for the squad's distribution in a round, with the likelihoods held."""

SQUAD_SETTLED = 0.002
"""No more of them follow one that moves mean and spread by less than this share of the spread."""


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
        learned = _first_guess(rows, settings, data, grid, shared)
        state = cls(
            rows=rows,
            settings=settings,
            data=data,
            learned=learned,
            weights=[TailWeights.even(r) for r in rows],
            forms=_alike(learned, rows),
            jobs=jobs,
        )
        state._lay([grid] * len(rows))
        return state

    def again(self, family: CurveFamily) -> Rounds:
        """Start another family with what this one has taught of all but the curves."""
        settings = replace(self.settings, family=family)
        grid = family.grid(self.data)
        learned = replace(
            _first_guess(self.rows, settings, self.data, grid, self.learned.shared),
            noise=self.learned.noise,
            level=self.learned.level,
        )
        state = replace(
            self,
            settings=settings,
            learned=learned,
            forms=_alike(learned, self.rows),
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
            forms=_alike(fit.learned, rows),
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
            forms=_alike(self.learned, rows),
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
        before, shared_before = self._sizes(), self.learned.shared
        self.expect()
        self.learn_squad()
        self._learn_shared()
        self._learn_level()
        self._learn_noise()
        if self.settings.heavy_tails:
            self.reweigh(learn_tails=True)
        after = self._sizes()
        scale = np.maximum(np.abs(before), 0.2 * self.learned.noise.effort)
        moved = float(np.max(np.abs(after - before) / scale))
        return max(moved, SHARED_WEIGHT * self.learned.shared.moved_sds(shared_before))

    def _sizes(self) -> FloatArray:
        noise, across, pooled = self.learned.noise, self.learned.across, self.settings.pooled
        return np.concatenate(
            [
                # Day and drift can stand in for each other; their sum is what matters.
                [noise.effort, np.hypot(noise.day, noise.drift)],
                self.learned.level.sd,
                across.mean if pooled else [],
                across.sd if pooled else [],
            ]
        )

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
        """EM for the squad's distribution and the forms, with the likelihoods held."""
        if not self.settings.pooled:
            return
        evidence = np.stack([m.form_evidence for m in self.moments])
        form_weight, self.forms = form_weights(evidence, self.forms, FORM_SMOOTHING, SQUAD_STEPS)
        self.learned = replace(self.learned, form_weight=form_weight)
        if self.settings.level_follows_curve:
            return
        before = self.settings.family.hyperprior(self.data)
        grids = [own.grid for own in self.own]
        log_over_forms = np.stack([m.log_over_forms for m in self.moments])
        points = np.stack([grid.coordinates for grid in grids])
        for _ in range(SQUAD_STEPS):
            share = softmax(log_over_forms + self.learned.cell_log_prior(grids), axis=1)
            moments = grid_moments(share, points)
            last, across = self.learned.across, update_normal(moments, self.learned.across, before)
            self.learned = replace(self.learned, across=across)
            if across.moved(last) < SQUAD_SETTLED:
                break

    def _learn_shared(self) -> None:
        """Newton step for effects on the level and for the account; volumes move along."""
        told = [m.shared for m in self.moments if m.shared is not None]
        if not told:
            return
        before = self.settings.family.hyperprior(self.data)
        size = len(self.learned.across.mean)
        mean_precision = np.zeros((size, size)) if before is None else np.diag(before.mean_sd**-2.0)
        shared, across = learn_shared(
            self.learned.shared,
            told,
            self.learned.across,
            mean_precision,
            pooled=self.settings.pooled,
            settled=self.fine and self.done > SETTLED_AFTER,
            judged=self.fine_rounds == JUDGED_AT,
        )
        self.learned = replace(self.learned, shared=shared, across=across)
        if any(shared.constants):
            self.rows = _under(self.rows, shared)
            # Peaks move with the volumes: an athlete held at the end of an old grid would hold
            # the account too.
            if self.fine:
                self.lay_fine_grids()
            else:
                self._lay(self.weighed_on)

    def _learn_level(self) -> None:
        """EM for the level across athletes, jointly with the coordinates if it follows them."""
        if self.settings.level != "pooled":
            return
        follows = self.settings.level_follows_curve
        moments = Moments(
            np.stack([m.level_mean for m in self.moments]),
            np.stack([m.level_covariance for m in self.moments]),
        )
        level = update_normal(
            moments, self.learned.level, None if follows else self.settings.level_prior
        )
        self.learned = replace(self.learned, level=level)
        if follows:
            across = NormalAcross(
                level.mean[1:], level.covariance[1:, 1:], level.mean_covariance[1:, 1:]
            )
            self.learned = replace(self.learned, across=across)

    def _learn_noise(self) -> None:
        """Step to likelier sizes; how far athletes are from any curve follows from them."""
        settings = self.settings
        free = {
            "effort": True,
            "day": settings.day_effects,
            "drift": settings.day_effects and settings.drift,
            "session_curve": settings.misfit is not None,
        }
        floor = max(0.01 * self.data.noise, settings.least_noise)
        sizes = [m.sizes for m in self.moments]
        noise = learn_sizes(sizes, self.learned.noise, floor=floor, free=free)
        if settings.misfit:
            family = cast(ResponseFamily, settings.family)
            gain = float(np.exp(self.learned.across.mean[family.gain]))
            parts = settings.misfit.of_gain * gain, settings.misfit.of_session * noise.session_curve
            noise = replace(noise, curve=float(np.hypot(*parts)))
        self.learned = replace(self.learned, noise=noise)

    def reweigh(self, *, learn_tails: bool) -> None:
        """Give each effort and each day the weight its residual deserves."""
        noise = self.learned.noise
        if learn_tails:
            effort = np.concatenate([m.squared_effort for m in self.moments])
            day = np.concatenate([m.squared_day for m in self.moments])
            noise = replace(noise, effort_df=tail_df(effort), day_df=max(tail_df(day), 4.0))
            self.learned = replace(self.learned, noise=noise)
        self.weights = [
            TailWeights(
                tail_weights(m.squared_effort, noise.effort_df),
                tail_weights(m.squared_day, noise.day_df),
            )
            for m in self.moments
        ]

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


def _first_guess(
    rows: list[AthleteRows],
    settings: EngineSettings,
    data: DataRange,
    grid: Grid,
    shared: SharedEffects,
) -> Learned:
    before = settings.family.hyperprior(data)
    if before is None:
        low, high = (np.array([axis[end] for axis in grid.axes]) for end in (0, -1))
        across = _independent((low + high) / 2, (high - low) / 4)
    else:
        across = NormalAcross(before.mean, before.covariance, np.zeros_like(before.covariance))
    centres = np.array([np.median(r.value) for r in rows])
    spread = float(np.std(centres)) if len(rows) > 1 else 0.15
    pooled_level = settings.level == "pooled"
    level = _independent(
        np.array([centres.mean() if pooled_level else 0.0]),
        np.array([max(spread, data.noise) if pooled_level else 0.0]),
    )
    return Learned(
        noise=NoiseSizes(
            effort=data.noise,
            day=0.7 * data.noise if settings.day_effects else 0.0,
            drift=0.5 * data.noise if settings.drift and settings.day_effects else 0.0,
            session_curve=0.3 * data.noise if settings.misfit else 0.0,
        ),
        across=across,
        form_weight=np.full(grid.forms, 1.0 / grid.forms),
        level=_stack_normals(level, across) if settings.level_follows_curve else level,
        shared=shared,
        pooled=settings.pooled,
    )


def _under(rows: list[AthleteRows], shared: SharedEffects) -> list[AthleteRows]:
    """Put rows under the account, where anything tells of its constants."""
    return [r.under(shared.account) for r in rows] if any(shared.constants) else rows


def _alike(learned: Learned, rows: list[AthleteRows]) -> FloatArray:
    """Think of everybody's forms what is thought of the squad's."""
    return np.tile(learned.form_weight, (len(rows), 1))


def _independent(mean: FloatArray, sd: FloatArray) -> NormalAcross:
    return NormalAcross(
        np.asarray(mean, float), np.diag(np.asarray(sd, float) ** 2), np.zeros((len(sd), len(sd)))
    )


def _stack_normals(first: NormalAcross, second: NormalAcross) -> NormalAcross:
    mean = np.concatenate([first.mean, second.mean])
    covariance = np.zeros((len(mean), len(mean)))
    size = len(first.mean)
    covariance[:size, :size], covariance[size:, size:] = first.covariance, second.covariance
    return NormalAcross(mean, covariance, np.zeros_like(covariance))
