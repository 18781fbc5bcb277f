"""What a club's fit learned of its squad, as a few rounded numbers that reveal no athlete.

Why nobody can be identified. Every number is about the squad, and is rounded to how well it is
known: a mean or a constant to steps of its own standard error, a spread to steps of its own
uncertainty. One of n athletes moves the mean by 1/n of their distance from it, and the standard
error is the spread divided by the root of n. So even if somebody knows everything about all other
athletes, the steps show the last one's curve only to within root n spreads, which is wider than the
squad itself. Nothing is random, so asking twice reveals nothing more. The number of athletes is
rounded too, and a squad of fewer than `FEWEST_ATHLETES` shares nothing.

The forms of the curves are not shared: 28 shares from a few athletes would say much about each, and
they helped nobody on simulated clubs.

What rounding cannot hide: right at the border of a step a small move changes the number, which then
shows on which side somebody is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from modeling.curve.account import CONSTANTS
from modeling.curve.rise_and_fall import LOG_DROP, RiseAndFall
from modeling.curve.shapes import ResponseFamily
from modeling.errors import ModelError
from modeling.fit.noise import COMPONENTS
from modeling.fit.pooling import NormalAcross
from modeling.fit.shared import SharedEffects
from modeling.fit.squad_fit import SquadFit

__all__ = ["COORDINATES", "FEWEST_ATHLETES", "LearnedSummary", "learned_summary"]

FloatArray = NDArray[np.float64]

COORDINATES = RiseAndFall().names
"""Logs of best volume, of gain as a log of performance, and of the volume from there to 10 % down;
volumes in effect."""

FEWEST_ATHLETES, ATHLETES_STEP = 8, 4
"""Fewest athletes in a summary, and the steps to which their number is rounded."""

CORRELATION_STEP, NOISE_LOG_STEP = 0.25, 0.1

LEAST_TOLD = 0.1
"""A constant is shared only if the squad adds more than this share of the prior's precision."""

LEAST_NOISE_SHARE = 0.05
"""Share of the effort noise; smaller sizes of other noise are raised to it."""

DRAWS, DRAWN_WITH_SEED = 4000, 1
"""Number of curves that turn a fit with other coordinates into `COORDINATES`, and their seed."""

FARTHEST = 500.0
"""How far past its peak a curve is followed until it is 10 % down, as a multiple of best volume."""


@dataclass(frozen=True)
class LearnedSummary:
    """What a squad is like.

    Attributes
    ----------
    athletes : int
        Number of athletes it is learned from, rounded down.
    mean, mean_sd, spread : tuples of 3 floats
        For `COORDINATES`: the squad's mean, its standard error, and the standard deviation across
        athletes.
    correlation : tuple of 3 floats
        Across athletes, of best with gain, best with hold, gain with hold.
    noise : tuple of 4 floats
        Standard deviations of `noise.COMPONENTS`, log scale.
    constants : tuple of 4 pairs or None
        Inner value of each of `account.CONSTANTS` from the squad's own sessions, and its standard
        error; None for a constant that they say too little about.
    """

    athletes: int
    mean: tuple[float, ...]
    mean_sd: tuple[float, ...]
    spread: tuple[float, ...]
    correlation: tuple[float, ...]
    noise: tuple[float, ...]
    constants: tuple[tuple[float, float] | None, ...] = (None,) * len(CONSTANTS)

    def __post_init__(self) -> None:
        """Refuse impossible numbers with a ValueError, as they may come from a file."""
        threes = self.mean, self.mean_sd, self.spread, self.correlation
        if any(len(each) != 3 for each in threes) or len(self.noise) != len(COMPONENTS):
            raise ValueError("numbers are missing")
        if not np.isfinite([*np.ravel(threes), *self.noise]).all():
            raise ValueError("a number is not finite")
        if (
            min(*self.mean_sd, *self.spread, *self.noise) <= 0
            or max(map(abs, self.correlation)) > 1
        ):
            raise ValueError("a size is not one")
        if self.athletes < FEWEST_ATHLETES:
            raise ValueError("the squad is too small")
        known = np.array([each for each in self.constants if each is not None], dtype=float)
        if len(self.constants) != len(CONSTANTS) or (
            known.size and (not np.isfinite(known).all() or known[:, 1].min() <= 0)
        ):
            raise ValueError("a constant is not one")

    @property
    def covariance(self) -> FloatArray:
        """Covariance across athletes, shape (3, 3)."""
        together = np.eye(3)
        together[np.triu_indices(3, 1)] = self.correlation
        together = np.maximum(together, together.T) + np.minimum(together, together.T) - np.eye(3)
        # Three variables may not be able to have the rounded correlations.
        size, ways = np.linalg.eigh(together)
        together = (ways * np.maximum(size, 0.05)) @ ways.T
        scale = np.array(self.spread) / np.sqrt(np.diag(together))
        return np.asarray(together * np.outer(scale, scale), dtype=float)


def learned_summary(
    fit: SquadFit, athletes: int, varied_by: Sequence[int] = (0,) * len(CONSTANTS)
) -> LearnedSummary:
    """Summarise what a fit has learned of a squad.

    Parameters
    ----------
    fit : SquadFit
    athletes : int
        Number of athletes with efforts.
    varied_by : sequence of 4 int
        For each of `account.CONSTANTS`, the number of athletes whose sessions differ in what it is
        about. With only a few, a constant is about them and not the squad, so it is left out.

    Raises
    ------
    ModelError
        The squad is so small that a summary would reveal its athletes.
    """
    if athletes < FEWEST_ATHLETES:
        raise ModelError(
            f"The fit is of {athletes} athletes. A summary needs at least {FEWEST_ATHLETES}, so"
            " that it tells of none of them."
        )
    across = _in_coordinates(fit)
    error = 2.0 ** np.round(np.log2(np.sqrt(np.diag(across.mean_covariance))))
    spread_step = 1.0 / np.sqrt(2.0 * athletes)
    together = across.covariance / np.outer(across.sd, across.sd)
    sizes = [getattr(fit.learned.noise, name) for name in COMPONENTS]
    noise = np.maximum(sizes, LEAST_NOISE_SHARE * sizes[0])
    return LearnedSummary(
        athletes=athletes // ATHLETES_STEP * ATHLETES_STEP,
        mean=_plain(_steps(across.mean, error)),
        mean_sd=_plain(error),
        spread=_plain(_log_steps(across.sd, spread_step)),
        correlation=_plain(_steps(together[np.triu_indices(3, 1)], CORRELATION_STEP)),
        noise=_plain(_log_steps(noise, NOISE_LOG_STEP)),
        constants=_constants(fit.learned.shared, varied_by),
    )


def _constants(
    shared: SharedEffects, varied_by: Sequence[int]
) -> tuple[tuple[float, float] | None, ...]:
    """Take the prior off what is known about the constants, and round the rest.

    Each constant is taken by itself, so what is known about two together may look too sure.
    """
    found: list[tuple[float, float] | None] = [None] * len(CONSTANTS)
    for told, place in zip(shared.told, np.flatnonzero(shared.constants).tolist(), strict=True):
        at = len(shared.marks) + int(np.count_nonzero(shared.constants[:place]))
        thought, sd = shared.beforehand[place]
        known = 1.0 / shared.covariance[at, at]
        own = known - sd**-2.0
        enough = varied_by[place] >= FEWEST_ATHLETES and own > LEAST_TOLD * sd**-2.0
        if told and enough:
            error = 2.0 ** np.round(np.log2(own**-0.5))
            value = (known * shared.found[at] - thought * sd**-2.0) / own
            [rounded, step] = _plain(np.array([_steps(value, error), error]))
            found[place] = rounded, step
    return tuple(found)


def _steps(value: Any, step: Any) -> FloatArray:
    # Adding 0.0 removes the sign of a zero, which would show on which side the number was.
    return np.round(np.asarray(value, dtype=float) / step) * step + 0.0


def _log_steps(value: Any, step: float) -> FloatArray:
    return np.asarray(np.exp(_steps(np.log(value), step)), dtype=float)


def _plain(values: NDArray[np.floating[Any]]) -> tuple[float, ...]:
    return tuple(float(f"{value:.6g}") for value in values)


def _in_coordinates(fit: SquadFit) -> NormalAcross:
    """Put what was learned across athletes into `COORDINATES`."""
    across = fit.learned.across
    family = cast(ResponseFamily, fit.settings.family)
    if isinstance(family, RiseAndFall):
        return across
    rng = np.random.default_rng(DRAWN_WITH_SEED)
    drawn = rng.multivariate_normal(across.mean, across.covariance, DRAWS)
    form = rng.choice(len(fit.learned.form_weight), DRAWS, p=fit.learned.form_weight)
    hold = np.log([_hold(family, *each) for each in zip(form, drawn, strict=True)])
    read = np.stack([drawn[:, 0], drawn[:, family.gain], hold], axis=1)
    # The straight-line part carries over the uncertainty of the squad's mean; the rest is spread.
    apart = drawn - drawn.mean(axis=0)
    line = np.linalg.lstsq(apart, read - read.mean(axis=0), rcond=None)[0].T
    return NormalAcross(read.mean(axis=0), np.cov(read.T), line @ across.mean_covariance @ line.T)


def _hold(family: ResponseFamily, form: int, coordinates: FloatArray) -> float:
    """Give the volume from a curve's peak to where it is 10 % down."""
    best = float(np.exp(coordinates[0]))
    past = np.geomspace(0.01, FARTHEST, 400)
    curve = family.curves(np.array([form]), coordinates[None, :], best * (1.0 + past))[:, 0]
    down = np.minimum.accumulate(curve)
    return best * float(np.exp(np.interp(LOG_DROP, -down, np.log(past))))
