"""The model's results as the frames that the store keeps."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from importlib.metadata import version
from typing import TYPE_CHECKING

import pandas as pd

from dashboard.fits.next_tests import next_test_rows
from db.fits.best_volume_changes import CHANGE_COLUMNS
from db.fits.findings import EFFORT_COLUMNS, FINDING_COLUMNS, Findings
from db.fits.fit_checks import FitCheck
from db.fits.kept_fits import Conclusions
from db.fits.results import FitFacts
from modeling.answers.frames import curve_frame, response_frame
from modeling.estimate import interval

if TYPE_CHECKING:
    from dashboard.fits.earlier_data import EarlierData
    from db.efforts.new_rounds import StopRule
    from db.roster.measures import Measure
    from modeling import Response, ResponseModel, Squad
    from modeling.checks import data_checks, predictive
    from modeling.testing.simulated_tests import HowFar


def kept_responses(responses: Iterable[Response], rows: pd.DataFrame) -> pd.DataFrame:
    """Return a row per athlete: `db.fits.results.RESPONSE_COLUMNS`; `rows` are what was fitted."""
    frame = response_frame(responses)
    last_session = rows.groupby("athlete")["started_at"].max()
    return frame.assign(last_session=pd.to_datetime(frame["athlete"].map(last_session)))


def kept_curves(responses: Iterable[Response], squad: Squad) -> pd.DataFrame:
    """Return a row per curve and volume: `db.fits.results.CURVE_COLUMNS`.

    The squad's curve has no athlete.
    """
    return curve_frame([(None, squad.curve), *((each.athlete, each.curve) for each in responses)])


def session_peak_frame(responses: Iterable[Response]) -> pd.DataFrame:
    """Return a row per session: `db.fits.results.PEAK_COLUMNS`, in the unit of the values."""
    peaks = [peak for response in responses for peak in response.session_peaks.items()]
    return pd.DataFrame(peaks, columns=["session_id", "peak_value"])


def conclusions_of(
    model: ResponseModel,
    measure: Measure,
    rows: pd.DataFrame,
    athletes: list[str],
    rule: StopRule,
    mosts: Mapping[object, HowFar],
) -> Conclusions:
    """Check model and data against each other; weigh next tests; look for changes."""
    from modeling.checks.data_checks import check_data
    from modeling.checks.leave_out import evidence_of
    from modeling.checks.predictive import check_fit

    known = evidence_of(model.fit_)
    found = check_data(
        model.fit_,
        known,
        higher_is_better=measure.better == "higher",
        worthwhile_pct=measure.worthwhile_pct,
    )
    return Conclusions(
        check=check_rows(check_fit(model.fit_, known), model.squad_),
        findings=finding_rows(found, rows),
        next_tests=next_test_rows(model, athletes, rule, mosts),
        changes=change_frame(model),
    )


def check_rows(check: predictive.FitCheck, squad: Squad) -> FitCheck:
    """Return a check of the model and the squad's noise as the store keeps them."""
    sessions = check.sessions
    bands = pd.DataFrame([asdict(band) for band in check.bands])
    places = pd.DataFrame({"sessions": sessions.counts})
    return FitCheck(
        effort_noise_pct_low=squad.effort_noise_pct.low,
        effort_noise_pct_high=squad.effort_noise_pct.high,
        day_noise_pct_low=squad.day_noise_pct.low,
        day_noise_pct_high=squad.day_noise_pct.high,
        sessions=sessions.sessions,
        sessions_inside=sessions.inside,
        efforts=sessions.efforts,
        efforts_inside=sessions.efforts_inside,
        bands=bands.assign(band=bands.index + 1),
        places=places.assign(tenth=places.index + 1, fewest=sessions.fewest, most=sessions.most),
    )


def change_frame(model: ResponseModel) -> pd.DataFrame:
    """Return a row per athlete with enough sessions: `best_volume_changes.CHANGE_COLUMNS`."""
    from modeling.answers.change import best_volume_change

    records = []
    for posterior in model.fit_.posteriors:
        change = best_volume_change(model.fit_, posterior)
        if posterior.rows and change.before and change.after:
            records.append(
                {
                    "athlete": posterior.rows.athlete,
                    "chance": change.chance,
                    "tellable": change.tellable,
                    "since_session_id": change.since,
                    "earliest_session_id": change.since_earliest,
                    "latest_session_id": change.since_latest,
                    "sessions_since": change.sessions_since,
                    **interval("before", change.before),
                    **interval("after", change.after),
                }
            )
    return pd.DataFrame(records, columns=CHANGE_COLUMNS)


def worth_frame(squad: Squad) -> pd.DataFrame:
    """Return what own lengths are worth: `db.fits.squad_worth.WORTH_COLUMNS`."""
    return pd.DataFrame(
        {
            "against": against,
            "volume": worth.volume,
            "athletes": worth.athletes,
            **interval("worth_pct", worth.worth_pct),
            **interval("gaining", worth.gaining),
        }
        for against, worth in (
            ("best single", squad.against_single),
            ("standard", squad.against_standard),
        )
    )


def finding_rows(check: data_checks.DataCheck, rows: pd.DataFrame) -> Findings:
    """Return the findings as the store keeps them; `rows` are what was fitted, in order."""
    findings = pd.DataFrame(
        [
            {name: getattr(one, name) for name in FINDING_COLUMNS if name != "place"}
            | {"place": place}
            for place, one in enumerate(check.findings, 1)
        ],
        columns=FINDING_COLUMNS,
    )
    efforts = pd.concat(
        [
            rows.iloc[list(one.rows)].assign(
                place=place,
                expected=list(one.expected),
                key=[row in set(one.key_rows) for row in one.rows],
            )
            for place, one in enumerate(check.findings, 1)
        ]
        or [rows.head(0).assign(place=0, expected=0.0, key=True)]
    )
    return Findings(
        effort_limit=check.effort_limit,
        findings=findings.astype({"factor": float}),
        efforts=efforts[EFFORT_COLUMNS],
    )


def fit_facts(
    measure: Measure,
    model: ResponseModel,
    revision: int,
    seconds: float,
    earlier: EarlierData | None = None,
) -> FitFacts:
    """Return how a fit was made and what it says about the squad.

    `earlier` is the data of the fit if it is of an earlier day.
    """
    squad = model.squad_
    return FitFacts(
        data_revision=revision,
        settings_json=json.dumps(model.get_params(), default=str, sort_keys=True),
        version=version("warmcurve"),
        seconds=seconds,
        athletes=squad.athletes,
        sessions=squad.sessions,
        efforts=squad.efforts,
        standard_volume=squad.standard_volume,
        worthwhile_pct=measure.worthwhile_pct,
        best_single_volume=squad.best_single_volume,
        **interval("worth_of_individual_pct", squad.worth_of_individual_pct),
        **interval("spread_log_sd", squad.spread_log_sd),
        chance_athletes_differ=squad.chance_athletes_differ,
        day_noise_pct=squad.day_noise_pct.median,
        effort_noise_pct=squad.effort_noise_pct.median,
        warnings="\n".join([*model.left_out_.values(), *squad.warnings]),
        data_until=earlier.until if earlier else None,
        data_basis=earlier.basis if earlier else None,
    )
