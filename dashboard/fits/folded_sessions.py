"""A session added to its athlete's curve between two fits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from dashboard.fits.curve_rows import CurveRow, curve_rows
from dashboard.fits.fit_frames import kept_responses
from dashboard.fits.fitting import CannotFit, model_rows
from dashboard.fits.lengths import with_lengths
from dashboard.fits.usual_terms import usual_terms
from db.efforts.rows import observations
from db.file.store import Store
from db.fits.results import latest_fit, learned_json
from db.roster.measures import Measure
from modeling.answers.frames import curve_frame
from modeling.estimate import interval

if TYPE_CHECKING:
    from modeling import ResponseModel


@dataclass(frozen=True)
class FoldedSession:
    """What a session adds to an athlete's curve, with the squad as the newest fit left it.

    Attributes
    ----------
    response : CurveRow
        The athlete's result in usual terms, with the columns of `db.fits.results.responses`.
    curve : DataFrame
        The athlete's curve: `db.fits.results.CURVE_COLUMNS`, in usual terms.
    peak : dict of float
        `peak`, `peak_low`, `peak_high`: what the athlete would show at the peak on that day,
        with its 90 % interval, in the unit of the measure.
    noise_pct : float
        The athlete's own effort noise in %.
    """

    response: CurveRow
    curve: pd.DataFrame
    peak: dict[str, float]
    noise_pct: float


def model_and_rows(
    store: Store, measure: Measure, athlete: str, session_id: int
) -> tuple[ResponseModel, pd.DataFrame]:
    """Return the newest model and an athlete's usable efforts, including those of a session.

    Raises
    ------
    CannotFit
        If there is no model, or no usable effort in the session.
    """
    from modeling import ResponseModel

    text = learned_json(store, measure.code)
    if text is None:
        raise CannotFit("There are no curves yet that this test could be added to.")
    rows = observations(store, measure.code)
    rows = rows[rows["athlete"] == athlete]
    if not (rows["session_id"] == session_id).any():
        raise CannotFit("No effort of this test is usable, so it adds nothing to the curve.")
    return ResponseModel.from_learned(text), rows


def fold_session(store: Store, measure: Measure, athlete: str, session_id: int) -> FoldedSession:
    """Fold an athlete's stored efforts into their curve without a new fit; nothing is saved.

    Raises
    ------
    CannotFit
        If there is no fit that a session can be folded into, or no usable effort.
    """
    from modeling import ModelError
    from modeling.testing.false_stop import own_noise_pct

    model, rows = model_and_rows(store, measure, athlete, session_id)
    fit = latest_fit(store, measure.code)
    assert fit is not None  # the model comes from it
    try:
        fold = model.fold_in(model_rows(rows), rows["value"].astype(float))
    except ModelError as error:
        raise CannotFit(str(error)) from error
    response = kept_responses([fold.response], rows)
    curve = curve_frame([(athlete, fold.response.curve)])
    terms = usual_terms(store, measure.code)
    if terms is not None:
        response, curve = terms.response_rows(response), terms.curve_rows(curve)
        response = with_lengths(store, measure.code, response, terms.base.standard_volume)
    return FoldedSession(
        response=curve_rows(response)[0],
        curve=curve,
        peak=interval("peak", fold.peaks[session_id]),
        noise_pct=own_noise_pct(
            fold.residuals_pct, rows["session_id"].nunique(), fit.effort_noise_pct
        ),
    )
