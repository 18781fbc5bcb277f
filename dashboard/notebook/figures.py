"""The pages' figures from Python, drawn from a fitted model without a store or a server."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import NamedTuple

import plotly.graph_objects as go
import plotly.io

from dashboard.core.palette import DARK, LIGHT, Palette
from dashboard.curve.chart import athlete_figure
from dashboard.fits.fit_frames import check_rows
from dashboard.fits.usual_terms import BAND_VOLUMES
from dashboard.screen import units
from dashboard.squad.chart import squad_figure
from dashboard.trust.how_sure_charts import bands_figure, noise_figure, places_figure
from dashboard.trust.noise_words import noise_rows
from modeling import Limits, ResponseModel
from modeling.checks.predictive import check_fit

__all__ = ["CheckFigures", "plot_checks", "plot_curve", "plot_squad"]


class CheckFigures(NamedTuple):
    """The figures of the page *How sure*.

    Attributes
    ----------
    bands : plotly.graph_objects.Figure
        Observed against expected means, by volume.
    places : plotly.graph_objects.Figure
        Where sessions fell within what their athlete's other sessions predict.
    noise : plotly.graph_objects.Figure
        How much efforts, days and tests vary.

    Notes
    -----
    Units: volumes as done in the squad's usual circumstances; differences and noise in %.
    Missing values: none.
    Errors: reading it raises nothing.
    Source: `modeling.checks.predictive`.
    """

    bands: go.Figure
    places: go.Figure
    noise: go.Figure


@dataclass(frozen=True)
class _Noise:
    """The squad's noise, under the names that a saved fit uses."""

    effort_noise_pct: float
    day_noise_pct: float


def plot_squad(
    model: ResponseModel,
    athletes: Iterable[object] | None = None,
    names: Mapping[object, str] | None = None,
    limits: Mapping[object, Limits] | None = None,
    unit: str = "efforts",
    dark: bool = False,
) -> go.Figure:
    """Draw every athlete's good range and best volume on one axis, as the page *Squad* does.

    Parameters
    ----------
    model : ResponseModel
        Fitted.
    athletes : iterable of object, optional
        Codes; None takes all with data.
    names : mapping of object to str, optional
        Names of athletes; an athlete without one is shown by code.
    limits : mapping of object to Limits, optional
        Limits on lengths, as for `ResponseModel.to_frame`.
    unit : str
        Volume unit in words.
    dark : bool
        Colours for a dark background.

    Returns
    -------
    plotly.graph_objects.Figure

    Raises
    ------
    ModelError
        No athlete was named.
    NotFittedError
        The model is not fitted.

    Notes
    -----
    Units: volumes as done in the squad's usual circumstances, on a logarithmic axis.
    Missing values: an athlete without data has the squad's numbers; one without a good range has
    no bar.
    Source: the numbers of `ResponseModel.to_frame`.
    """
    rows = model.to_frame(athletes, limits)
    called = names or {}
    rows["name"] = [str(called.get(code, code)) for code in rows["athlete"]]
    with _own_template():
        return squad_figure(rows, model.standard_to_do_, unit, _palette(dark))


def plot_curve(
    model: ResponseModel,
    athlete: object,
    unit: str = "efforts",
    value_unit: str = "",
    dark: bool = False,
) -> go.Figure:
    """Draw one athlete's curve with its band and every effort, as the athlete's page does.

    Parameters
    ----------
    model : ResponseModel
        Fitted.
    athlete : object
        A code; one without data gets the squad's curve.
    unit, value_unit : str
        Units of volume and of values, in words.
    dark : bool
        Colours for a dark background.

    Returns
    -------
    plotly.graph_objects.Figure

    Raises
    ------
    NotFittedError
        The model is not fitted.

    Notes
    -----
    Units: volumes as done in the squad's usual circumstances; performance in % of the athlete's
    own peak.
    Missing values: sessions whose day is not known are called undated.
    Source: `ResponseModel.curves` and `ResponseModel.placed_efforts`.
    """
    [row] = model.to_frame([athlete]).to_dict("records")
    points = model.placed_efforts(athlete)
    points["told"] = units.told(points["value"], value_unit)
    curve = model.curves([athlete])
    with _own_template():
        standard = model.standard_to_do_
        return athlete_figure(curve, points, row, standard, unit, _palette(dark))


def plot_checks(model: ResponseModel, unit: str = "efforts", dark: bool = False) -> CheckFigures:
    """Compare a fit with its own data, as the page *How sure* does.

    Parameters
    ----------
    model : ResponseModel
        Fitted.
    unit : str
        Volume unit in words.
    dark : bool
        Colours for a dark background.

    Returns
    -------
    CheckFigures

    Raises
    ------
    NotFittedError
        The model is not fitted.

    Notes
    -----
    Units: volumes as done in the squad's usual circumstances; differences and noise in %.
    Missing values: an athlete's only session has nothing to be predicted from and is left out.
    Source: `modeling.checks.predictive`, which names its references.
    """
    to_do, squad, palette = model.usual_volumes.to_do, model.squad_, _palette(dark)
    check = check_rows(check_fit(model.fit_), squad)
    bands = check.bands.assign(**{name: to_do(check.bands[name]) for name in BAND_VOLUMES})
    found = _Noise(squad.effort_noise_pct.median, squad.day_noise_pct.median)
    with _own_template():
        return CheckFigures(
            bands=bands_figure(bands, unit, palette),
            places=places_figure(check.places, palette),
            noise=noise_figure(noise_rows(check, found), model.worthwhile_pct, palette),
        )


def _palette(dark: bool) -> Palette:
    return DARK if dark else LIGHT


@contextmanager
def _own_template() -> Iterator[None]:
    """Keep the default template of a notebook's other figures unchanged."""
    before = plotly.io.templates.default
    try:
        yield
    finally:
        plotly.io.templates.default = before
