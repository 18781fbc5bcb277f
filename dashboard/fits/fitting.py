"""From rows to saved results: the one place where stored efforts meet the response model."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Protocol, TypeVar, cast

import pandas as pd

from dashboard.core import dates
from dashboard.core.numbers import counted
from dashboard.fits.earlier_data import (
    FEWEST_EFFORTS,
    FEWEST_VOLUMES,
    data_of_a_week_ago,
    enough,
)
from dashboard.fits.fit_frames import (
    conclusions_of,
    fit_facts,
    kept_curves,
    kept_responses,
    session_peak_frame,
    worth_frame,
)
from dashboard.fits.kept_curves import advice_rows
from dashboard.fits.learned_files import SharedPrior, kept_prior
from dashboard.fits.next_tests import test_mosts
from dashboard.rules.stop_rules import stop_rule
from db.efforts.rows import measured, observations
from db.errors import StoreError
from db.file.store import Store
from db.fits.kept_fits import Conclusions, keep_conclusions, keep_fit
from db.fits.results import FitFacts, KeptFit, latest_fit
from db.roster.athletes import list_athletes
from db.roster.measures import Measure, get_measure, routine_median_volume
from db.roster.protocols import rest_asked_for

if TYPE_CHECKING:
    from modeling import ResponseModel
    from modeling.compute.places import Compute

Progress = Callable[[float, str], None]
Worked = TypeVar("Worked")


class WorkOut(Protocol):
    """Runs a long computation and waits for it. It is never given anything that uses the store."""

    def __call__(self, what: Callable[[], Worked], /) -> Worked:
        """Return what the function returns, or raise what it raises."""


def work_out_here(what: Callable[[], Worked], /) -> Worked:
    """Compute in the calling thread."""
    return what()


class CannotFit(StoreError):
    """A measure cannot be fitted; the message says what is missing."""

    title = "This cannot be fitted yet"


@dataclass(frozen=True)
class FitOutcome:
    """The result of fitting one measure: a saved fit, or the sentence that says why not."""

    measure: Measure
    fit: KeptFit | None
    problem: str = ""


def fit_all(
    store: Store,
    person: str,
    progress: Progress | None = None,
    compute: Compute | None = None,
) -> list[FitOutcome]:
    """Fit every measure that has usable efforts; one that cannot be fitted is passed over.

    Parameters are those of `fit_measure`.

    Raises
    ------
    CannotFit
        If no measure has any usable effort.
    """
    measures = measured(store)
    if not measures:
        raise CannotFit("There are no efforts yet. Import a file of efforts, or enter a session.")
    return [
        _outcome(store, measure, person, _part_of(progress, number, len(measures)), compute)
        for number, measure in enumerate(measures)
    ]


def fit_measure(
    store: Store,
    code: str,
    person: str,
    progress: Progress | None = None,
    curves_kept: Callable[[], None] | None = None,
    compute: Compute | None = None,
    work_out: WorkOut = work_out_here,
) -> KeptFit:
    """Fit the response curves of one measure and save them.

    Every active athlete gets a response; an athlete without efforts gets the squad's curve. The
    standard volume is the measure's own, else the median volume of routine sessions, else the
    best single volume for the squad. The curves of a week ago are worked out too, unless there
    are some from that time, so that pages can say what has changed.

    Parameters
    ----------
    store : Store
    code, person : str
        The measure, and who asks for the fit.
    progress : callable, optional
        Called with the share done and what is being done.
    curves_kept : callable, optional
        Called as soon as the curves are saved; what follows from them is worked out and saved
        after that. Without it, everything is saved together.
    compute : Compute, optional
        Where to compute, as for `modeling.ResponseModel`; None means in this process.
    work_out : WorkOut
        Runs what takes long to compute, for example in a thread of low priority.

    Raises
    ------
    CannotFit
        If there are too few usable efforts.
    """
    tell = progress or (lambda share, what: None)
    measure, revision = get_measure(store, code), store.revision()
    standard = _standard_volume(store, measure)
    tell(0.0, f"Reading the efforts of {measure.name.lower()}")
    rows = observations(store, code)
    if lacking := _lacking(measure, rows):
        raise CannotFit(lacking)
    fitting = f"Fitting {measure.name.lower()}: {counted(len(rows), 'effort')}"
    tell(0.1, fitting)
    started = time.perf_counter()
    prior = kept_prior(store, measure.code)
    fit = partial(_fitted, measure, standard, prior, compute, rest_asked_for(store, measure))
    model = work_out(partial(fit, rows, lambda share: tell(0.1 + 0.4 * share, fitting)))
    athletes = _athletes(store, rows)

    def conclusions() -> Conclusions:
        tell(0.5, f"Checking {measure.name.lower()}, and weighing what to test next")
        mosts = test_mosts(store, measure, model.standard_to_do_, athletes)
        rule = stop_rule(store, measure)
        return work_out(partial(conclusions_of, model, measure, rows, athletes, rule, mosts))

    at_once = None if curves_kept else conclusions()
    seconds = time.perf_counter() - started
    tell(0.5 if curves_kept else 0.6, f"Keeping the curves of {measure.name.lower()}")
    facts = fit_facts(measure, model, revision, seconds)
    fit_id = work_out(partial(_keeping, code, facts, model, rows, athletes, at_once))(store, person)
    if curves_kept is not None:
        curves_kept()
        keep_conclusions(store, person, code, fit_id, conclusions())
    earlier = data_of_a_week_ago(store, code)
    if earlier is not None:
        fitting = f"Fitting {measure.name.lower()} as of {dates.day(earlier.until)}"
        with suppress(CannotFit):
            done = partial(fit, earlier.rows, lambda share: tell(0.6 + 0.35 * share, fitting))
            then = work_out(done)
            facts = fit_facts(measure, then, revision, 0.0, earlier)
            known = _athletes(store, earlier.rows)
            keep = partial(_keeping, code, facts, then, earlier.rows, known, None, drawn=())
            work_out(keep)(store, person)
    tell(1.0, f"{measure.name} is fitted")
    # It was saved a moment ago, and fits are never deleted.
    return cast(KeptFit, latest_fit(store, code))


def _keeping(
    code: str,
    facts: FitFacts,
    model: ResponseModel,
    rows: pd.DataFrame,
    athletes: list[str],
    conclusions: Conclusions | None,
    drawn: Iterable[str] | None = None,
) -> Callable[[Store, str], int]:
    """Return a function that saves a fit in a store and returns its number.

    The fit has draws of the curves of some athletes or all.
    """
    responses = [model.response(athlete) for athlete in athletes]
    frames = (
        kept_responses(responses, rows),
        kept_curves(responses, model.squad_),
        session_peak_frame(responses),
    )
    learned, worth = model.learned_json(), worth_frame(model.squad_)
    advice = advice_rows(model, athletes if drawn is None else drawn)
    return lambda store, person: keep_fit(
        store,
        person,
        code,
        facts,
        *frames,
        conclusions,
        learned=learned,
        advice=advice,
        worth=worth,
    )


def lacking_for_curves(store: Store, measure: Measure) -> str:
    """Return what a measure lacks before its curves can be worked out; nothing if it has enough."""
    return _lacking(measure, observations(store, measure.code))


def _lacking(measure: Measure, rows: pd.DataFrame) -> str:
    if enough(rows):
        return ""
    efforts, volumes = len(rows), rows["volume"].nunique()
    return (
        f"{measure.name} has {counted(efforts, 'usable effort')} at "
        f"{counted(volumes, 'volume')}. A fit needs at least {FEWEST_EFFORTS} efforts at "
        f"{FEWEST_VOLUMES} volumes: import a file or enter a fade test."
    )


def _outcome(
    store: Store,
    measure: Measure,
    person: str,
    progress: Progress | None,
    compute: Compute | None,
) -> FitOutcome:
    try:
        kept = fit_measure(store, measure.code, person, progress, compute=compute)
        return FitOutcome(measure, kept)
    except CannotFit as error:
        return FitOutcome(measure, None, error.message)


def _part_of(progress: Progress | None, number: int, parts: int) -> Progress | None:
    """Return a progress whose 0 to 1 covers one of several equal parts of the whole."""
    if progress is None:
        return None
    return lambda share, what: progress((number + share) / parts, what)


def _standard_volume(store: Store, measure: Measure) -> float | None:
    """Return what the team does today, or None to let the model take its best single volume."""
    if measure.standard_volume is not None:
        return measure.standard_volume
    return routine_median_volume(store, measure.code)


def _fitted(
    measure: Measure,
    standard_volume: float | None,
    prior: SharedPrior | None,
    compute: Compute | None,
    effort_rest_seconds: float | None,
    rows: pd.DataFrame,
    tell: Callable[[float], None],
) -> ResponseModel:
    # scikit-learn takes a second to load, and pages import this module long before they fit.
    from modeling import ModelError, ResponseModel

    model = ResponseModel(
        standard_volume=standard_volume,
        worthwhile_pct=measure.worthwhile_pct,
        higher_is_better=measure.better == "higher",
        compute=compute,
        prior=None if prior is None else prior.prior,
        effort_rest_seconds=effort_rest_seconds,
    )
    try:
        return model.fit(model_rows(rows), rows["value"].astype(float), progress=tell)
    except ModelError as error:
        raise CannotFit(f"{measure.name} cannot be fitted: {error}") from error


def model_rows(rows: pd.DataFrame) -> pd.DataFrame:
    """Return usable efforts under the names of the model's columns."""
    return rows.rename(columns={"session_id": "session"})


def _athletes(store: Store, rows: pd.DataFrame) -> list[str]:
    """Return everybody with efforts, and every active athlete."""
    active = list_athletes(store, active_only=True)["athlete"]
    return sorted({*rows["athlete"], *active})
