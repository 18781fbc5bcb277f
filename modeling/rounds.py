"""The fit under way: the steps that a round of the engine is made of."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from modeling.curve import DataRange, Grid
from modeling.data_range import data_range
from modeling.likelihood import (
    NoiseSizes,
    SessionModel,
    cell_log_likelihood,
    features,
)
from modeling.noise import ResidualSums, learn_sizes, tail_df, tail_weights
from modeling.observations import REFERENCE_CONTEXT, AthleteRows
from modeling.pooling import Moments, NormalAcross, log_density, update_normal
from modeling.posterior import (
    Posterior,
    even_sample,
    grid_moments,
    likely_cells,
    plausible_range,
)
from modeling.squad_fit import EngineSettings, SquadFit

__all__ = ["Rounds"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
Sampled = tuple[FloatArray, IntArray]
"""Residuals (n_efforts, n_curves) from an athlete's sampled curves, and the curves' cells."""

CONTEXT_SD = 0.03
"""Spread expected of context effects on the log scale: games and tests differ by some per cent."""

FORM_SMOOTHING = 0.25
"""Athletes' worth of evidence that each form starts with."""


@dataclass(frozen=True)
class TailWeights:
    """Weights that heavy tails give one athlete's efforts and days."""

    effort: FloatArray
    day: FloatArray


@dataclass
class Rounds:
    """The fit under way; every method is a step of a round."""

    rows: list[AthleteRows]
    settings: EngineSettings
    data: DataRange
    noise: NoiseSizes
    across: NormalAcross
    form_weight: FloatArray
    level: NormalAcross
    context: dict[str, float]
    weights: list[TailWeights]
    grids: list[Grid] = field(default_factory=list)
    points: FloatArray = field(default_factory=lambda: np.empty(0))
    session_models: list[SessionModel] = field(default_factory=list)
    basis: list[tuple[FloatArray, ...]] = field(default_factory=list)
    relative: NDArray[np.float32] = field(default_factory=lambda: np.empty(0, np.float32))
    highest: FloatArray = field(default_factory=lambda: np.empty(0))

    @classmethod
    def begin(cls, rows: list[AthleteRows], settings: EngineSettings) -> Rounds:
        """Start from the data's range and the family's hyperprior, on the wide grid."""
        data = data_range(rows, settings.farthest_volume)
        grid = settings.family.grid(data)
        before = settings.family.hyperprior(data)
        if before is None:
            low, high = (np.array([axis[end] for axis in grid.axes]) for end in (0, -1))
            across = _independent((low + high) / 2, (high - low) / 4)
        else:
            across = _independent(before.mean, before.sd)
        centres = np.array([np.median(r.value) for r in rows])
        spread = float(np.std(centres)) if len(rows) > 1 else 0.15
        names = {str(c) for r in rows for c in r.context} - {REFERENCE_CONTEXT}
        pooled_level = settings.level == "pooled"
        state = cls(
            rows=rows,
            settings=settings,
            data=data,
            noise=NoiseSizes(
                effort=data.noise,
                day=0.7 * data.noise if settings.day_effects else 0.0,
                drift=0.5 * data.noise if settings.drift and settings.day_effects else 0.0,
            ),
            across=across,
            form_weight=np.full(grid.forms, 1.0 / grid.forms),
            level=_independent(
                np.array([centres.mean() if pooled_level else 0.0]),
                np.array([max(spread, data.noise) if pooled_level else 0.0]),
            ),
            context=dict.fromkeys(sorted(names), 0.0) if settings.contexts else {},
            weights=[TailWeights(np.ones(r.efforts), np.ones(len(r.sessions))) for r in rows],
        )
        if settings.level_follows_curve:
            state.level = _stack_normals(state.level, across)
        state._lay([grid] * len(rows))
        return state

    @classmethod
    def resume(cls, fit: SquadFit, rows: list[AthleteRows]) -> Rounds:
        """Start from what a fit learned, for other rows."""
        state = cls(
            rows=rows,
            settings=fit.settings,
            data=fit.data,
            noise=fit.noise,
            across=fit.across,
            form_weight=fit.form_weight,
            level=fit.level,
            context=fit.context,
            weights=[TailWeights(np.ones(r.efforts), np.ones(len(r.sessions))) for r in rows],
        )
        state._lay([fit.settings.family.grid(fit.data)] * len(rows))
        return state

    def _lay(self, grids: list[Grid]) -> None:
        self.grids = grids
        self.points = np.stack([grid.coordinates for grid in grids])
        self.basis = [
            tuple(self.settings.family.basis(grid, j, r.volume) for j in range(len(grid.node)))
            for grid, r in zip(grids, self.rows, strict=True)
        ]

    @property
    def level_mean(self) -> float:
        """Mean level of the squad."""
        return float(self.level.mean[0])

    @property
    def level_sd(self) -> float:
        """Spread of the level given the coordinates."""
        covariance = self.level.covariance
        variance = covariance[0, 0]
        if len(covariance) > 1:
            variance -= covariance[0, 1:] @ np.linalg.solve(covariance[1:, 1:], covariance[1:, 0])
        return float(np.sqrt(max(variance, 0.0)))

    def _level_shift(self, a: int) -> FloatArray | None:
        """How the level's mean moves with the coordinates of athlete a's cells."""
        if not self.settings.level_follows_curve:
            return None
        covariance = self.level.covariance
        slope = np.linalg.solve(covariance[1:, 1:], covariance[1:, 0])
        return (self.points[a] - self.across.mean) @ slope

    def _centred(self, rows: AthleteRows) -> FloatArray:
        return rows.value - self.level_mean - self._context_of(rows)[rows.session_index]

    def _context_of(self, rows: AthleteRows) -> FloatArray:
        return np.array([self.context.get(str(c), 0.0) for c in rows.context])

    def round(self) -> float:
        """Do one round; return the largest relative move of any learned size."""
        before = self._sizes()
        self.weigh_cells()
        self.learn_squad()
        sampled = [self.residuals(a) for a in range(len(self.rows))]
        if self.settings.heavy_tails:
            self.reweigh(sampled, learn_tails=True)
        self.learn_noise(sampled)
        after = self._sizes()
        scale = np.maximum(np.abs(before), 0.2 * self.noise.effort)
        return float(np.max(np.abs(after - before) / scale))

    def _sizes(self) -> FloatArray:
        return np.concatenate(
            [
                # Day and drift can stand in for each other; their sum is what matters.
                [self.noise.effort, np.hypot(self.noise.day, self.noise.drift)],
                self.level.sd,
                self.across.mean if self.settings.pooled else [],
                self.across.sd if self.settings.pooled else [],
            ]
        )

    def weigh_cells(self) -> None:
        """Compute every cell's likelihood for every athlete."""
        self.session_models = [
            SessionModel.of(r, self.noise, self.level_sd, w.effort, w.day)
            for r, w in zip(self.rows, self.weights, strict=True)
        ]
        shape = (len(self.rows), self.grids[0].forms, self.grids[0].cells_per_form)
        self.relative = np.empty(shape, dtype=np.float32)
        self.highest = np.empty(len(self.rows))
        for a, model in enumerate(self.session_models):
            grid = self.grids[a]
            found = features(model, self._centred(self.rows[a]), self.basis[a], grid)
            log_likelihood = cell_log_likelihood(found, grid, self._level_shift(a))
            self.highest[a] = log_likelihood.max()
            np.exp(log_likelihood - self.highest[a], out=self.relative[a], casting="same_kind")

    def _cell_prior(self, some: slice = slice(None)) -> FloatArray:
        """Probability of each cell's coordinates: (n_athletes, n_cells_per_form)."""
        points = self.points[some]
        if not self.settings.pooled:
            return np.full(points.shape[:2], 1.0 / points.shape[1])
        volume = np.array([[grid.cell_volume] for grid in self.grids[some]])
        return np.exp(log_density(points, self.across)) * volume

    def _cell_weights(self, a: int) -> FloatArray:
        """Give athlete a's unnormalised posterior over flat cells."""
        prior = self._cell_prior(slice(a, a + 1))[0]
        return (self.form_weight[:, None] * prior * self.relative[a]).ravel()

    def _over_forms(self) -> FloatArray:
        """Likelihoods with the forms averaged out: (n_athletes, n_cells_per_form)."""
        share = self.form_weight.astype(np.float32)
        return np.stack([share @ each for each in self.relative]).astype(float)

    def learn_squad(self, steps: int = 8) -> None:
        """EM over the squad's distribution and the forms, with the likelihoods held."""
        if not self.settings.pooled:
            return
        before = self.settings.family.hyperprior(self.data)
        for _ in range(1 if self.settings.level_follows_curve else steps):
            if not self.settings.level_follows_curve:
                over_forms = self._over_forms()
                for _ in range(3):
                    self.across = update_normal(
                        grid_moments(over_forms * self._cell_prior(), self.points),
                        self.across,
                        before,
                    )
            if len(self.form_weight) > 1:
                prior = self._cell_prior().astype(np.float32)
                share = np.einsum("aft,at->af", self.relative, prior) * self.form_weight
                share /= share.sum(axis=1, keepdims=True)
                total = share.sum(axis=0) + FORM_SMOOTHING
                self.form_weight = total / total.sum()

    def posterior(self, a: int) -> Posterior:
        """Give athlete a's posterior over cells."""
        weight = self._cell_weights(a)
        total = float(weight.sum())
        cells, kept = likely_cells(weight / total)
        return Posterior(
            self.rows[a], self.grids[a], cells, kept, float(self.highest[a] + np.log(total))
        )

    def residuals(self, a: int) -> Sampled:
        """Centred values less each sampled curve: (n_efforts, n_curves), and the cells."""
        cells = even_sample(self._cell_weights(a), self.settings.curves)
        grid = self.grids[a]
        shape, setting = np.divmod(cells, grid.amplitudes)
        curve = np.zeros((self.rows[a].efforts, len(cells)))
        for j, (basis, node) in enumerate(zip(self.basis[a], grid.node, strict=True)):
            curve += basis[:, node[shape]] * grid.amplitude[grid.group[shape], setting, j]
        residual = self._centred(self.rows[a])[:, None] - curve
        shift = self._level_shift(a)
        if shift is not None:
            residual = residual - shift[cells % grid.cells_per_form]
        return residual, cells

    def reweigh(self, sampled: list[Sampled], *, learn_tails: bool) -> None:
        """Give each effort and each day the weight its residual deserves."""
        squared_effort, squared_day = [], []
        for model, (residual, _) in zip(self.session_models, sampled, strict=True):
            means = model.session_means(residual)
            own = residual - means[model.rows.session_index]
            spread = np.diag(model.shrink)[model.rows.session_index]
            squared_effort.append(
                ((own**2).mean(axis=1) + spread) * model.rows.weight / self.noise.effort**2
            )
            pull = model.rows.session_sums(model.precision_times(residual))
            day = model.day_variance[:, None] * pull
            left = model.day_variance * (
                1.0
                - model.day_variance
                * (model.per_session - model.per_session**2 * np.diag(model.shrink))
            )
            squared_day.append(((day**2).mean(axis=1) + left) / max(self.noise.day, 1e-12) ** 2)
        if learn_tails:
            self.noise = replace(
                self.noise,
                effort_df=tail_df(np.concatenate(squared_effort)),
                day_df=max(tail_df(np.concatenate(squared_day)), 4.0),
            )
        self.weights = [
            TailWeights(
                tail_weights(effort, self.noise.effort_df), tail_weights(day, self.noise.day_df)
            )
            for effort, day in zip(squared_effort, squared_day, strict=True)
        ]

    def learn_noise(self, sampled: list[Sampled]) -> None:
        """Learn context effects, levels and noise sizes from the sampled residuals."""
        if self.context:
            self._learn_contexts([residual for residual, _ in sampled])
        if self.settings.level == "pooled":
            self._learn_levels(sampled)
        self.noise = learn_sizes(
            [
                ResidualSums.of(r, residual, w.effort, w.day)
                for r, (residual, _), w in zip(self.rows, sampled, self.weights, strict=True)
            ],
            self.noise,
            self.level_sd,
            floor=max(0.01 * self.data.noise, self.settings.least_noise),
            day_effects=self.settings.day_effects,
            drift=self.settings.drift,
        )

    def _learn_contexts(self, residuals: list[FloatArray]) -> None:
        """Generalised least squares with a weak prior; residuals hold the current effects."""
        names = list(self.context)
        current = np.array([self.context[name] for name in names])
        information = np.eye(len(names)) / CONTEXT_SD**2
        score = np.zeros(len(names))
        for model, residual in zip(self.session_models, residuals, strict=True):
            rows = model.rows
            marks = (rows.context[:, None] == np.array(names, dtype=object)).astype(float)
            marks = marks[rows.session_index]
            weighted = model.precision_times(marks)
            information += marks.T @ weighted
            score += weighted.T @ (residual.mean(axis=1) + marks @ current)
        effects = np.linalg.solve(information, score)
        self.context = dict(zip(names, effects.tolist(), strict=True))

    def _learn_levels(self, sampled: list[Sampled]) -> None:
        """EM for the level across athletes, jointly with the coordinates if it follows them."""
        variance = self.level_sd**2
        follows = self.settings.level_follows_curve
        means, covariances = [], []
        for a, (model, (residual, cells)) in enumerate(
            zip(self.session_models, sampled, strict=True)
        ):
            pull = model.precision_times(residual).sum(axis=0)
            certain = float(model.precision_times(np.ones(model.rows.efforts)).sum())
            drawn = (self.level_mean + variance * pull)[:, None]
            shift = self._level_shift(a)
            if shift is not None:
                here = cells % self.grids[a].cells_per_form
                drawn = np.concatenate([drawn + shift[here][:, None], self.points[a][here]], axis=1)
            covariance = np.atleast_2d(np.cov(drawn.T, bias=True))
            covariance[0, 0] += max(variance - variance**2 * certain, 0.0)
            means.append(drawn.mean(axis=0))
            covariances.append(covariance)
        before = None if follows else self.settings.level_prior
        self.level = update_normal(
            Moments(np.stack(means), np.stack(covariances)), self.level, before
        )
        if follows:
            self.across = NormalAcross(
                self.level.mean[1:],
                self.level.covariance[1:, 1:],
                self.level.mean_covariance[1:, 1:],
            )

    def lay_fine_grids(self) -> None:
        """Lay each athlete's grid over what their efforts and the squad make plausible."""
        posts = self._over_forms() * self._cell_prior()
        grids = []
        for grid, post in zip(self.grids, posts, strict=True):
            box = post.reshape([len(axis) for axis in grid.axes])
            ends = [plausible_range(axis, box, d) for d, axis in enumerate(grid.axes)]
            low, high = np.array(ends).T
            grids.append(self.settings.family.grid(self.data, (low, high)))
        self._lay(grids)

    def session_effects(self, a: int) -> FloatArray:
        """Give the expected level, drift, day and context of athlete a's sessions together."""
        model = self.session_models[a]
        residual, _ = self.residuals(a)
        means = model.session_means(residual).mean(axis=1)
        return self.level_mean + self._context_of(model.rows) + means

    def result(self, rounds: int) -> SquadFit:
        """Give what was learned."""
        return SquadFit(
            settings=self.settings,
            data=self.data,
            across=self.across,
            form_weight=self.form_weight,
            level=self.level,
            noise=self.noise,
            context=self.context,
            posteriors=tuple(self.posterior(a) for a in range(len(self.rows))),
            session_effects=tuple(self.session_effects(a) for a in range(len(self.rows))),
            rounds=rounds,
        )


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
