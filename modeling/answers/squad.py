"""What the model says about the squad as a whole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from modeling.answers.best_spread import spread_of_best
from modeling.answers.response import BEST, Curve, curve_of
from modeling.answers.worth import Worth, squad_worth
from modeling.estimate import SDS_TO_END, Estimate
from modeling.fit.posterior import Posterior
from modeling.fit.squad_fit import SquadFit

__all__ = ["Squad", "squad_numbers"]

FloatArray = NDArray[np.float64]

MIDDLE = np.array([0.5])


@dataclass(frozen=True)
class Squad:
    """What the model says about the squad.

    Attributes
    ----------
    athletes, sessions, efforts : int
        Counts behind the numbers.
    standard_volume : float
        The standard that calls are made against.
    against_single, against_standard : Worth
        What everyone's advised volume is worth against the best single volume for the whole
        squad, and against the standard.
    spread_log_sd : Estimate
        Standard deviation of log best volume across athletes.
    chance_athletes_differ : float
        Probability that best volumes differ at all, with even prior odds.
    curve : Curve
        Expected curve of an athlete of this squad without data.
    effort_noise_pct, day_noise_pct : Estimate
        Standard deviations of an effort and of a day, in %.
    warnings : tuple of str
        Cautions to show on the screen.

    Notes
    -----
    Units: volumes in effect, in the measure's volume unit; worth and noise in %; `spread_log_sd` in
    natural logs.
    Missing values: none; without a standard it is the best single volume.
    Errors: reading it raises nothing.
    Source: `modeling.answers.best_spread` for the spread and its chance, `modeling.answers.worth`
    for worth, chi-square intervals of variances for the noise.
    """

    athletes: int
    sessions: int
    efforts: int
    standard_volume: float
    against_single: Worth
    against_standard: Worth
    spread_log_sd: Estimate
    chance_athletes_differ: float
    curve: Curve
    effort_noise_pct: Estimate
    day_noise_pct: Estimate
    warnings: tuple[str, ...]

    @property
    def best_single_volume(self) -> float:
        """The single volume that is best for the whole squad."""
        return self.against_single.volume

    @property
    def worth_of_individual_pct(self) -> Estimate:
        """Mean gain of everyone's advised volume over the best single volume, in %."""
        return self.against_single.worth_pct


def squad_numbers(
    fit: SquadFit, *, volume: FloatArray, standard_volume: float | None, worthwhile_pct: float
) -> Squad:
    """Work out what the fit says about the squad as a whole."""
    rows = fit.rows
    single, standard = squad_worth(
        fit, volume=volume, standard_volume=standard_volume, worthwhile_pct=worthwhile_pct
    )
    spread, differ = spread_of_best(fit)
    sessions, efforts = sum(len(r.sessions) for r in rows), sum(r.efforts for r in rows)
    effort, day = noise_estimates(fit, len(rows), sessions, efforts)
    return Squad(
        athletes=len(rows),
        sessions=sessions,
        efforts=efforts,
        standard_volume=standard.volume,
        against_single=single,
        against_standard=standard,
        spread_log_sd=spread,
        chance_athletes_differ=differ,
        curve=curve_of(fit, fit.prior_posterior(), volume),
        effort_noise_pct=effort,
        day_noise_pct=day,
        warnings=_cautions(fit),
    )


def noise_estimates(
    fit: SquadFit, athletes: int, sessions: int, efforts: int
) -> tuple[Estimate, Estimate]:
    """Effort and day noise in %, with intervals from the degrees of freedom behind each.

    A standard deviation has a relative error of 1 / sqrt(2 df) (chi-square). For the day it
    grows with the effort noise that is left in a session's mean.
    """
    effort_df = max(efforts - sessions, 1)
    effort = fit.learned.noise.effort
    day = max(fit.learned.noise.day, 1e-6)
    left_over = effort**2 / (efforts / sessions)
    day_error = (1.0 + left_over / day**2) / np.sqrt(2.0 * max(sessions - athletes, 1))
    return (
        _sized(effort, 1.0 / np.sqrt(2.0 * effort_df)),
        _sized(day, min(day_error, 2.0)),
    )


def _sized(sd: float, relative_error: float) -> Estimate:
    factor = float(np.exp(SDS_TO_END * relative_error))
    return Estimate(100.0 * sd, 100.0 * sd / factor, 100.0 * sd * factor)


def _cautions(fit: SquadFit) -> tuple[str, ...]:
    tried = [rows.volume for rows in fit.rows]
    cautions = []
    if len(tried) < 5:
        cautions.append(
            f"Only {len(tried)} of the squad have data, so each curve rests on that "
            "athlete's own data and on what is common elsewhere."
        )
    if np.ptp(np.concatenate(tried)) == 0:
        cautions.append(
            "All efforts were made at one volume, so nothing is known of any curve. "
            "Run a fade test or vary the volume."
        )
    beyond = sum(fit.each(_peaks_beyond))
    if beyond > len(tried) / 2:
        cautions.append(
            f"{beyond} of {len(tried)} seem to peak beyond the volumes tried. "
            "Longer tests would show where."
        )
    return tuple(cautions)


def _peaks_beyond(_: SquadFit, posterior: Posterior) -> bool:
    best = np.exp(posterior.quantiles(BEST, MIDDLE)[0])
    return posterior.rows is not None and bool(best > posterior.rows.volume.max())
