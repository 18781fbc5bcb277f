"""What going on with a fade test is expected to bring, to stop it once enough is known.

The efforts made are folded into the athlete's curve. For each of many curves drawn from it the rest
of the test is simulated under the stop rule, the draws are reweighted by the outcome, and the best
volume under the new weights is looked up. The mean gain over the best volume now is what going on
is worth (expected value of sample information; Raiffa & Schlaifer 1961, chapter 4). More efforts
never tell less, so if the whole rest is worth next to nothing, no part of it is worth more.

Given a curve, the day's own level is normal, and the efforts made tell it: mean and variance are
those of a normal mean with a normal prior. Earlier days' levels are left out: three efforts of the
day outweigh them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from threadpoolctl import threadpool_limits

from modeling.answers.response_model import ResponseModel
from modeling.errors import ModelError
from modeling.estimate import Estimate, drawn_quantiles, estimate
from modeling.testing.fade import IN_A_ROW, SHARE
from modeling.testing.simulated_tests import (
    MOST_FADE_EFFORTS,
    Begun,
    Known,
    offered,
    rest_of_fade,
)

__all__ = ["ENOUGH_PCT", "RestOfTest", "rest_of_test"]

FloatArray = NDArray[np.float64]

ENOUGH_PCT = 0.1
"""Going on is not worth it if it is expected to improve the advice by less than this."""


@dataclass(frozen=True)
class RestOfTest:
    """What to expect from the rest of a fade test.

    Attributes
    ----------
    worth_pct : float
        Performance that going on to the stop rule is expected to bring through better advice.
    efforts : Estimate
        How many more efforts that takes, with a 90 % interval.
    """

    worth_pct: float
    efforts: Estimate

    @property
    def is_enough(self) -> bool:
        """Whether what is known is enough for the advice."""
        return self.worth_pct < ENOUGH_PCT


def rest_of_test(
    model: ResponseModel,
    X: pd.DataFrame,
    y: ArrayLike,
    session: object,
    *,
    stop_share: float = SHARE,
    in_a_row: int = IN_A_ROW,
    most_left: float = MOST_FADE_EFFORTS,
) -> RestOfTest:
    """Look ahead in a fade test.

    Parameters
    ----------
    model : ResponseModel
        A fitted one; what it learned of the squad is held fixed.
    X, y : DataFrame, array-like of shape (n_efforts,)
        All usable efforts of one athlete, those of the test among them, as for `fold`.
    session : object
        Label of the test.
    stop_share, in_a_row : float, int
        The stop rule (`modeling.testing.fade`).
    most_left : float
        How many more efforts are allowed.

    Raises
    ------
    ModelError
        Rows of more than one athlete, unusable rows, or none of the test.
    """
    with threadpool_limits(1):  # the matrices are small
        known, begun = _standing(model, X, y, session, most_left)
        known = replace(known, stop_share=stop_share, in_a_row=in_a_row)
        logs, efforts = rest_of_fade(known, begun, np.random.default_rng(1))
        more = estimate(drawn_quantiles(efforts.astype(float)))
        return RestOfTest(known.worth(logs), more)


def _standing(
    model: ResponseModel,
    X: pd.DataFrame,
    y: ArrayLike,
    session: object,
    most_left: float,
) -> tuple[Known, Begun]:
    posterior = model.folded_posterior(X, y)
    rows, learned = posterior.rows, model.fit_.learned
    of_test = rows is not None and rows.sessions[rows.session_index] == session
    made = np.flatnonzero(of_test)
    if rows is None or not len(made):
        raise ModelError(f"There is no effort of session {session!r}.")
    curve = replace(model.draws(rows.athlete), change=model.fit_.curves(posterior, model.volume_))
    noise, value = learned.noise, learned.centred(rows)[made]
    before = noise.day**2 + noise.drift**2 + noise.session_curve**2 + learned.level_sd**2
    of_day = len(made) / noise.effort**2
    variance = 1.0 / (1.0 / before + of_day)
    left = value[:, None] - curve.at(rows.volume[made])
    last = rows.work.select(np.arange(rows.efforts) == made[-1])
    ahead = np.arange(1.0, 1.0 + max(min(most_left, MOST_FADE_EFFORTS), 0))
    known = Known(
        curve=curve,
        level=variance * of_day * left.mean(axis=0),
        level_variance=variance,
        effort_sd=noise.effort,
        session_variance=0.0,
        offered=offered(curve),
    )
    return known, Begun(value, model.account_.in_effect(replace(last, since=last.since + ahead)))
