"""The hierarchical engine: every athlete's whole posterior on a grid, the squad learned by EM.

For athlete a, session s, effort i, with y the transformed value::

    y = level(a) + drift(a, t) + day(a, s) + context(s) + f_a(volume) + e

Given the cell of f_a the rest is linear and normal and integrates out exactly (`likelihood`).
A round of the fit computes every cell's likelihood, learns the squad's distribution from them
(`pooling`), draws an evenly spaced sample of each athlete's plausible curves, and learns noise,
weights, levels and context effects from the residuals of that sample (`noise`). The first
rounds use a wide, coarse grid; the others a finer one laid around what the first found.

This is empirical Bayes: sizes and squad distribution are point estimates (with a correction for
the uncertain squad mean), everything about an athlete is a weighted sum over cells. Its weak
point is a squad of very few athletes, where the spread across athletes comes mostly from the
family's hyperprior.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from modeling.curve import CurveFamily, DataRange, Grid, Hyperprior
from modeling.likelihood import (
    NoiseSizes,
    SessionModel,
    cell_log_likelihood,
    curves_of_cells,
    features,
)
from modeling.noise import ResidualSums, learn_sizes, tail_df, tail_weights
from modeling.observations import REFERENCE_CONTEXT, AthleteRows
from modeling.pooling import Moments, NormalAcross, log_density, update_normal

__all__ = ["EngineSettings", "Posterior", "SquadFit", "fit_squad"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
OUTSIDE = 2e-4
"""Share of an athlete's posterior that may lie beyond either end of their fine grid."""

Progress = Callable[[float], None]
Sampled = tuple[FloatArray, IntArray]
"""Residuals (n_efforts, n_curves) from an athlete's sampled curves, and the curves' cells."""


CONTEXT_SD = 0.03
"""Spread expected of context effects on the log scale: games and tests differ by some per cent."""

FORM_SMOOTHING = 0.25
"""Athletes' worth of evidence that each form starts with."""

NEGLIGIBLE = 1e-5
"""Posterior weight that may be dropped with the least likely cells."""


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
    day_effects, drift, contexts, heavy_tails : bool
        Which of the other terms are in the model.
    level_prior : Hyperprior or None
        What is thought of the levels beforehand (one coordinate).
    rounds : int
        Most rounds on the final grid.
    tolerance : float
        The fit stops when no size or squad quantity moves by more than this share.
    curves : int
        Sampled curves per athlete.
    least_noise : float
        Smallest effort and day noise worth telling from none.
    """

    family: CurveFamily
    pooled: bool = True
    level: str = "pooled"
    level_follows_curve: bool = False
    day_effects: bool = True
    drift: bool = True
    contexts: bool = True
    heavy_tails: bool = True
    level_prior: Hyperprior | None = None
    rounds: int = 12
    tolerance: float = 0.01
    curves: int = 48
    least_noise: float = 0.0


@dataclass(frozen=True)
class Posterior:
    """One athlete's posterior over cells.

    Attributes
    ----------
    rows : AthleteRows or None
        The efforts behind it; None for an athlete without data.
    grid : Grid
        The athlete's own grid, laid where their posterior lives.
    cells : array of shape (n_kept,)
        Flat indices into (n_forms, n_cells_per_form); all but a negligible part.
    weight : array of shape (n_kept,)
        Their probabilities.
    log_evidence : float
        Log marginal likelihood of the efforts.
    """

    rows: AthleteRows | None
    grid: Grid
    cells: IntArray
    weight: FloatArray
    log_evidence: float

    def coordinates(self, cells: IntArray) -> FloatArray:
        """Coordinates of flat cells: (n_cells, n_coordinates)."""
        return self.grid.coordinates[cells % self.grid.cells_per_form]

    def quantiles(self, coordinate: int, shares: FloatArray) -> FloatArray:
        """Quantiles of one coordinate, with each cell's weight spread evenly over the cell."""
        axis = self.grid.axes[coordinate]
        step = axis[1] - axis[0]
        place = np.rint((self.coordinates(self.cells)[:, coordinate] - axis[0]) / step)
        mass = np.bincount(place.astype(int), self.weight, len(axis))
        edges = np.concatenate([[axis[0] - step / 2], axis + step / 2])
        below = np.concatenate([[0.0], np.cumsum(mass) / mass.sum()])
        rising = np.concatenate([[True], np.diff(below) > 0])
        return np.interp(shares, below[rising], edges[rising])

    def sample(self, count: int) -> IntArray:
        """Take `count` cells at even steps of cumulative probability: the same every time."""
        return self.cells[_even_sample(self.weight, count)]


@dataclass(frozen=True)
class _Weights:
    """Weights that heavy tails give one athlete's efforts and days."""

    effort: FloatArray
    day: FloatArray


@dataclass(frozen=True)
class SquadFit:
    """Everything learned: the squad's distribution, the noise, each athlete's posterior.

    Attributes
    ----------
    settings : EngineSettings
    data : DataRange
    across : NormalAcross
        Distribution of the coordinates across athletes.
    form_weight : array of shape (n_forms,)
        Proportions of the forms.
    level : NormalAcross
        Distribution of the level (and, if it follows the curve, of the coordinates with it).
    noise : NoiseSizes
    context : dict
        Effect of each context against the reference one.
    posteriors : tuple of Posterior
        In the order of the rows given.
    session_effects : tuple of arrays of shape (n_sessions,)
        Expected level, drift and day of each athlete's sessions together, context included.
    rounds : int
        Rounds used.
    """

    settings: EngineSettings
    data: DataRange
    across: NormalAcross
    form_weight: FloatArray
    level: NormalAcross
    noise: NoiseSizes
    context: dict[str, float]
    posteriors: tuple[Posterior, ...]
    session_effects: tuple[FloatArray, ...]
    rounds: int

    @property
    def log_evidence(self) -> float:
        """Log marginal likelihood of all efforts."""
        return sum(p.log_evidence for p in self.posteriors)

    def prior_posterior(self) -> Posterior:
        """Give the posterior of an athlete without data: the squad's own distribution.

        The squad's mean is itself uncertain, so that uncertainty is added to the spread.
        """
        covariance = self.across.covariance + self.across.mean_covariance
        wide = replace(self.across, covariance=covariance)
        reach = 3.5 * wide.sd
        grid = self.settings.family.grid(self.data, (wide.mean - reach, wide.mean + reach))
        cell = np.exp(log_density(grid.coordinates, wide))
        weight = (self.form_weight[:, None] * cell).ravel()
        cells, kept = _keep(weight / weight.sum())
        return Posterior(None, grid, cells, kept, 0.0)

    def curves(self, posterior: Posterior, cells: IntArray, volume: FloatArray) -> FloatArray:
        """Curves of flat cells at some volumes: (n_volumes, n_cells), 0 at the peak."""
        return curves_of_cells(self.settings.family, posterior.grid, cells, volume)

    def fold(self, rows: AthleteRows) -> tuple[Posterior, FloatArray]:
        """Give one athlete's posterior and session effects, all the squad taught held fixed."""
        state = _State.resume(self, [rows])
        state.weigh_cells()
        state.lay_fine_grids()
        state.weigh_cells()
        for _ in range(3 if self.settings.heavy_tails else 0):
            state.reweigh([state._residuals(0)], learn_tails=False)
            state.weigh_cells()
        return state.posterior(0), state.session_effects(0)


def fit_squad(
    rows: list[AthleteRows], settings: EngineSettings, progress: Progress | None = None
) -> SquadFit:
    """Fit the model to all athletes.

    Parameters
    ----------
    rows : list of AthleteRows
        From `observations.arrange`.
    settings : EngineSettings
    progress : callable, optional
        Called with the share done, 0 to 1.
    """
    # The matrices are small: threads of the linear algebra would only wait for each other.
    with threadpool_limits(1):
        return _rounds(rows, settings, progress or (lambda share: None))


def _rounds(rows: list[AthleteRows], settings: EngineSettings, report: Progress) -> SquadFit:
    state = _State.begin(rows, settings)
    for done in range(3):
        state.round()
        report(0.05 * (done + 1))
    used = 0
    for used in range(1, settings.rounds + 1):
        if used in (1, 3, 6):
            state.lay_fine_grids()
        moved = state.round()
        report(0.15 + 0.85 * used / settings.rounds)
        if used >= 4 and moved < settings.tolerance:
            break
    state.weigh_cells()
    state.learn_squad()
    report(1.0)
    return state.result(used)


@dataclass
class _State:
    """The fit under way; every method is a step of a round."""

    rows: list[AthleteRows]
    settings: EngineSettings
    data: DataRange
    noise: NoiseSizes
    across: NormalAcross
    form_weight: FloatArray
    level: NormalAcross
    context: dict[str, float]
    weights: list[_Weights]
    grids: list[Grid] = field(default_factory=list)
    points: FloatArray = field(default_factory=lambda: np.empty(0))
    session_models: list[SessionModel] = field(default_factory=list)
    basis: list[tuple[FloatArray, ...]] = field(default_factory=list)
    relative: NDArray[np.float32] = field(default_factory=lambda: np.empty(0, np.float32))
    highest: FloatArray = field(default_factory=lambda: np.empty(0))

    @classmethod
    def begin(cls, rows: list[AthleteRows], settings: EngineSettings) -> _State:
        data = data_range(rows)
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
            weights=[_Weights(np.ones(r.efforts), np.ones(len(r.sessions))) for r in rows],
        )
        if settings.level_follows_curve:
            state.level = _stack_normals(state.level, across)
        state._lay([grid] * len(rows))
        return state

    @classmethod
    def resume(cls, fit: SquadFit, rows: list[AthleteRows]) -> _State:
        state = cls(
            rows=rows,
            settings=fit.settings,
            data=fit.data,
            noise=fit.noise,
            across=fit.across,
            form_weight=fit.form_weight,
            level=fit.level,
            context=fit.context,
            weights=[_Weights(np.ones(r.efforts), np.ones(len(r.sessions))) for r in rows],
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
        sampled = [self._residuals(a) for a in range(len(self.rows))]
        if self.settings.heavy_tails:
            self.reweigh(sampled, learn_tails=True)
        self.learn_noise(sampled)
        after = self._sizes()
        scale = np.maximum(np.abs(before), 0.2 * self.noise.effort)
        return float(np.max(np.abs(after - before) / scale))

    def _sizes(self) -> FloatArray:
        return np.concatenate(
            [
                [self.noise.effort, self.noise.day, self.noise.drift],
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
                        _grid_moments(over_forms * self._cell_prior(), self.points),
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
        cells, kept = _keep(weight / total)
        return Posterior(
            self.rows[a], self.grids[a], cells, kept, float(self.highest[a] + np.log(total))
        )

    def _residuals(self, a: int) -> Sampled:
        """Centred values less each sampled curve: (n_efforts, n_curves), and the cells."""
        cells = _even_sample(self._cell_weights(a), self.settings.curves)
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
            _Weights(
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
            ends = [_plausible_range(axis, box, d) for d, axis in enumerate(grid.axes)]
            low, high = np.array(ends).T
            grids.append(self.settings.family.grid(self.data, (low, high)))
        self._lay(grids)

    def session_effects(self, a: int) -> FloatArray:
        """Give the expected level, drift, day and context of athlete a's sessions together."""
        model = self.session_models[a]
        residual, _ = self._residuals(a)
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


def data_range(rows: list[AthleteRows]) -> DataRange:
    """Read off the facts that a grid must follow."""
    volume = np.concatenate([r.volume for r in rows])
    positive = volume[volume > 0]
    if len(positive) == 0:
        positive = np.array([1.0])
    differences, swings = [], []
    for r in rows:
        same = np.diff(r.session_index) == 0
        differences.append(np.diff(r.value)[same])
        low, high = np.quantile(r.value - np.median(r.value), [0.05, 0.95])
        swings.append(high - low)
    jumps = np.abs(np.concatenate(differences))
    scale = max(float(np.median(np.abs(np.concatenate([r.value for r in rows])))), 1e-3)
    # The median of |difference| of two normal values is 0.954 of their standard deviation.
    noise = float(np.median(jumps)) / 0.954 if len(jumps) else 0.0
    if noise <= 0.0:
        noise = max(float(np.median(swings)) / 3.3, 1e-3 * scale)
    return DataRange(
        lowest_volume=float(positive.min()),
        highest_volume=float(positive.max()),
        typical_volume=float(np.exp(np.log(positive).mean())),
        swing=float(np.max(swings)),
        noise=noise,
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


def _plausible_range(axis: FloatArray, box: FloatArray, d: int) -> tuple[float, float]:
    """Find the ends of the part of an axis that holds nearly all, and go a node further."""
    others = tuple(other for other in range(box.ndim) if other != d)
    share = np.cumsum(box.sum(axis=others))
    share /= share[-1]
    step = axis[1] - axis[0]
    # Between nodes, so that a hair's breadth in the data moves the grid by a hair's breadth.
    rising = np.concatenate([[True], np.diff(share) > 0])
    low, high = np.interp([OUTSIDE, 1.0 - OUTSIDE], share[rising], axis[rising])
    return float(low - step), float(high + step)


def _grid_moments(weight: FloatArray, points: FloatArray) -> Moments:
    """Means and covariances of points (n_athletes, n, d) under weights (n_athletes, n)."""
    share = weight / weight.sum(axis=1, keepdims=True)
    mean = (share[:, None, :] @ points)[:, 0, :]
    second = np.swapaxes(points, 1, 2) @ (points * share[..., None])
    return Moments(mean, second - mean[:, :, None] * mean[:, None, :])


def _even_sample(weight: FloatArray, count: int) -> IntArray:
    """Places of `count` draws at even steps of cumulative weight."""
    cumulative = np.cumsum(weight)
    steps = (np.arange(count) + 0.5) / count * cumulative[-1]
    return np.searchsorted(cumulative, steps)


def _keep(weight: FloatArray) -> tuple[IntArray, FloatArray]:
    """Drop the least likely cells that together weigh next to nothing."""
    order = np.sort(weight)
    cut = order[np.searchsorted(np.cumsum(order), NEGLIGIBLE * weight.sum())]
    cells = np.flatnonzero(weight >= cut)
    kept = weight[cells]
    return cells, kept / kept.sum()
