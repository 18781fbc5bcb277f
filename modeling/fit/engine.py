"""The hierarchical engine: every athlete's whole posterior on a grid, the squad learned by EM.

For athlete a, session s, effort i, with y the transformed value::

    y = level(a) + drift(a, t) + day(a, s) + shared(s) + f_a(u) + g_a(u) + h_s(u) + e

Here u is the volume in effect (`account`), or the plain volume if no circumstances are told. f_a is
a curve of the family; g_a and h_s are how far the athlete and the session deviate from every curve
of it (`spots`).

Given the cell of f_a, the rest is linear and normal and integrates out exactly (`cell_likelihood`).
A round of the fit weighs every athlete's cells under what is known about the squad (`expectation`,
one pure function per athlete). From the results it learns the squad's distribution (`pooling`),
levels, the shared effects and the account (`shared`), noise sizes and tails (`noise`). The first
rounds use a wide, coarse grid; later rounds use a finer one for each athlete, laid around what the
first found.

More than one family of curves may be tried. After a few rounds of each, a narrower family is kept
if the efforts of the whole squad are clearly likelier under it (empirical Bayes' choice of model:
Kass & Raftery 1995). A large squad does these rounds with some of its athletes.

Why this is right. If the squad's distribution G were known, athlete a's posterior would be
p(c | y_a) ~ G(c) p(y_a | c) by Bayes' rule. G is not known but shared, so it is estimated from
all athletes' marginal likelihood, sum_a log sum_c G(c) p(y_a | c), and put in its place:
empirical Bayes (Robbins 1956). With c on a grid, that is the likelihood of a mixture with known
components p(y_a | c). Maximising it over all G is the nonparametric problem of Kiefer &
Wolfowitz (1956), solved by EM (Laird 1978). Here only the forms' proportions are free and the
coordinates are normal, so a few athletes are enough. In each p(y_a | c), level, drift and day are
integrated out in closed form, so no estimate carries their sampling error (Rao-Blackwell:
Gelfand & Smith 1990; Casella & Robert 1996). Probabilities about an athlete are sums over
cells; only curves, for pictures and residuals, are sampled.

Results for an athlete are read off curve and deviation together (`drawn`), and efforts count for
less than independent ones would (`spots.Misfit`). The reason: no family contains the true curve. A
posterior that assumes it does gets surer of a wrong answer, the better the measurement is.

The price: sizes and G are fixed at their estimates, so intervals are a little narrow with few
athletes, although the uncertain mean of the squad is allowed for. With few athletes the spread
across them comes mostly from the family's hyperprior. `predictive` checks a fit: probability
integral transforms (Dawid 1984) and residuals by volume (after Gelman, Meng & Stern 1996).

References
----------
Casella & Robert (1996), Rao-Blackwellisation of sampling schemes, Biometrika 83, 81-94.
Dawid (1984), Statistical theory: the prequential approach, JRSS A 147, 278-292.
Gelfand & Smith (1990), Sampling-based approaches to calculating marginal densities, JASA 85.
Gelman, Meng & Stern (1996), Posterior predictive assessment of model fitness via realized
discrepancies, Statistica Sinica 6, 733-807.
Kass & Raftery (1995), Bayes factors, JASA 90, 773-795.
Kiefer & Wolfowitz (1956), Consistency of the maximum likelihood estimator in the presence of
infinitely many incidental parameters, Annals of Mathematical Statistics 27, 887-906.
Laird (1978), Nonparametric maximum likelihood estimation of a mixing distribution, JASA 73.
Robbins (1956), An empirical Bayes approach to statistics, Proc. Third Berkeley Symposium 1.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from modeling.compute.places import Here, Place, one_thread
from modeling.curve.shapes import CurveFamily
from modeling.efforts.observations import AthleteRows
from modeling.errors import AthleteError
from modeling.fit.posterior import Posterior
from modeling.fit.shared import SharedEffects
from modeling.fit.squad_fit import EngineSettings, SquadFit
from modeling.fit.steps import JUDGED_AT, Rounds

__all__ = ["fit_squad", "fit_usable", "fold_athlete"]

FloatArray = NDArray[np.float64]
Progress = Callable[[float], None]

COARSE_ROUNDS, COARSE_ROUNDS_AGAIN = 2, 1
"""Rounds on the wide grid, before each athlete gets their own: first family, other families."""

TRIAL_ROUNDS, TRIAL_ROUNDS_WITH_ACCOUNT = 2, 6
"""Rounds on athletes' own grids before families are compared. With an account to learn, the first
family takes more: the others then start from an account that has settled."""

FEWEST_ATHLETES = 8
"""Fewer athletes cannot show that a narrow family is wrong, so it is not tried."""

CLEARLY = 0.2
"""Lead in log evidence, for each athlete, that a narrow family needs over a wider one. Where
athletes differ in shape, or have done little, chance seldom gives it more (set on simulated
squads)."""

TRIAL_ATHLETES = 120
"""Most athletes in the first rounds: more would choose the same family."""

LAID_AGAIN_AFTER = (2, 5)
"""Rounds on athletes' own grids after which these are laid again, around what is known by then."""

FEWEST_ROUNDS, FEWEST_ROUNDS_WITH_ACCOUNT = 4, JUDGED_AT
"""Fewest rounds on athletes' own grids."""


def fit_squad(
    rows: list[AthleteRows],
    settings: EngineSettings,
    progress: Progress | None = None,
    others: Sequence[CurveFamily] = (),
    places: Sequence[Place] | None = None,
) -> SquadFit:
    """Fit the model to all athletes.

    Parameters
    ----------
    rows : list of AthleteRows
        From `observations.arrange`.
    settings : EngineSettings
    progress : callable, optional
        Called with the share done, 0 to 1.
    others : sequence of CurveFamily
        Narrower families, tried after that of the settings if there are enough athletes, and kept
        if the evidence is clearly for them.
    places : sequence of Place, optional
        Where athletes are fitted; None is this process. They stay there until `SquadFit.each` is
        no longer needed.
    """
    report = progress or (lambda share: None)
    at = [Here()] if places is None else places
    with one_thread():
        others = others if len(rows) >= FEWEST_ATHLETES else ()
        some = rows[:: -(-len(rows) // TRIAL_ATHLETES)]
        shared = SharedEffects.begin(rows if settings.shared else [], settings.beforehand)
        state = Rounds.begin(some, settings, shared, at)
        trial = TRIAL_ROUNDS_WITH_ACCOUNT if any(shared.constants) else TRIAL_ROUNDS
        _first_rounds(state, COARSE_ROUNDS, trial if others else TRIAL_ROUNDS)
        for number, family in enumerate(others, start=1):
            report(0.5 * number / (1 + len(others)))
            other = state.again(family)
            _first_rounds(other, COARSE_ROUNDS_AGAIN, TRIAL_ROUNDS)
            state = state.better_of(other, CLEARLY * len(some))
        if len(some) < len(rows):
            state = state.among(rows, at)
        _settle(state, report)
        return state.result()


def fit_usable(
    rows: list[AthleteRows],
    settings: EngineSettings,
    progress: Progress | None = None,
    others: Sequence[CurveFamily] = (),
    places: Sequence[Place] | None = None,
) -> tuple[SquadFit, dict[object, str]]:
    """Fit the squad, and leave out athletes who cannot be fitted.

    Parameters as for `fit_squad`.

    Returns
    -------
    SquadFit
    dict of athlete to str
        Why each of those left out could not be fitted.

    Raises
    ------
    AthleteError
        Nobody can be fitted.
    """
    left_out: dict[object, str] = {}
    while True:
        try:
            return fit_squad(rows, settings, progress, others, places), left_out
        except AthleteError as error:
            left_out[error.athlete] = str(error)
            rows = [each for each in rows if each.athlete != error.athlete]
            if not rows:
                raise


def _first_rounds(state: Rounds, coarse: int, fine: int) -> None:
    for _ in range(coarse):
        state.round()
    state.lay_fine_grids()
    for _ in range(fine):
        state.round()


def _settle(state: Rounds, report: Progress) -> None:
    settings = state.settings
    fewest = FEWEST_ROUNDS_WITH_ACCOUNT if any(state.learned.shared.constants) else FEWEST_ROUNDS
    while state.fine_rounds < settings.rounds:
        if not state.fine or state.fine_rounds in LAID_AGAIN_AFTER:
            state.lay_fine_grids()
        moved = state.round()
        report(0.5 + 0.5 * state.fine_rounds / settings.rounds)
        if state.fine_rounds >= fewest and moved < settings.tolerance:
            break
    report(1.0)


def fold_athlete(fit: SquadFit, rows: AthleteRows) -> tuple[Posterior, FloatArray, FloatArray]:
    """Fit one athlete, with all that the squad taught held fixed.

    Returns
    -------
    Posterior
        The athlete's posterior.
    array of shape (n_sessions,)
        Expected level, drift, day and context of their sessions together.
    array of shape (n_sessions,)
        Standard deviations of these.
    """
    with one_thread():
        state = Rounds.resume(fit, [rows])
        state.expect()
        for _ in range(2 if fit.settings.heavy_tails else 0):
            state.reweigh()
            state.expect()
        found = state.result().posteriors[0]
        effects, variances = state.session_moments()[0]
        return found, effects, np.sqrt(variances)
