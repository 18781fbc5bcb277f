"""The model's results as the frames that the store keeps."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict
from importlib.metadata import version
from typing import TYPE_CHECKING

import pandas as pd

from db.fits.best_volume_changes import CHANGE_COLUMNS
from db.fits.findings import EFFORT_COLUMNS, FINDING_COLUMNS, Findings
from db.fits.fit_checks import FitCheck
from db.fits.results import FitFacts

if TYPE_CHECKING:
    from dashboard.fits.earlier_data import EarlierData
    from db.roster.measures import Measure
    from modeling import Curve, Estimate, Response, ResponseModel, Squad
    from modeling.checks import data_checks, predictive


def response_frame(responses: Iterable[Response], rows: pd.DataFrame) -> pd.DataFrame:
    """Return a row per athlete: `db.fits.results.RESPONSE_COLUMNS`; `rows` are what was fitted."""
    last_session = rows.groupby("athlete")["started_at"].max()
    records = [
        _record(response) | {"last_session": last_session.get(response.athlete)}
        for response in responses
    ]
    frame = pd.DataFrame.from_records(records)
    return frame.assign(
        last_session=pd.to_datetime(frame["last_session"]),
        good_from=frame["good_from"].astype(float),
        good_to=frame["good_to"].astype(float),
    )


def _record(response: Response) -> dict[str, object]:
    """Return one athlete's response under the names of the store's columns."""
    q25, q75 = response.best_volume_half
    plain = ("athlete", "sessions", "efforts", "advised_volume", "call", "good_from", "good_to")
    chances = ("chance_short", "chance_long", "chance_either")
    return {
        **{name: getattr(response, name) for name in plain},
        # A chance is a sum of weights, which rounding can take a hair past 1.
        **{name: min(getattr(response, name), 1.0) for name in chances},
        **interval("best_volume", response.best_volume),
        "best_volume_q25": q25,
        "best_volume_q75": q75,
        # Without efforts of their own it is the squad's curve, within what the squad tried.
        "reach": response.reach or "inside",
        **interval("gain_pct", response.gain_pct),
        **interval("hold_volume", response.hold_volume),
        **interval("loss_at_standard_pct", response.loss_at_standard_pct),
    }


def interval(name: str, estimate: Estimate) -> dict[str, float]:
    """Return an estimate as three columns: its median, and its 5 % and 95 % quantiles."""
    return {name: estimate.median, f"{name}_low": estimate.low, f"{name}_high": estimate.high}


def curve_frame(responses: Iterable[Response], squad: Squad) -> pd.DataFrame:
    """Return a row per curve and volume: `db.fits.results.CURVE_COLUMNS`, no athlete: the squad."""
    own = (_curve_rows(each.athlete, each.curve) for each in responses)
    return pd.concat([_curve_rows(None, squad.curve), *own], ignore_index=True)


def athlete_curve_frame(response: Response) -> pd.DataFrame:
    """Return one athlete's curve, a row per volume: `db.fits.results.CURVE_COLUMNS`."""
    return _curve_rows(response.athlete, response.curve)


def _curve_rows(athlete: object, curve: Curve) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "athlete": pd.Series([athlete] * len(curve.volume), dtype=object),
            "volume": curve.volume,
            "change_pct": curve.change_pct,
            "change_pct_low": curve.change_pct_low,
            "change_pct_high": curve.change_pct_high,
        }
    )


def session_peak_frame(responses: Iterable[Response]) -> pd.DataFrame:
    """Return a row per session: `db.fits.results.PEAK_COLUMNS`, in the unit of the values."""
    peaks = [peak for response in responses for peak in response.session_peaks.items()]
    return pd.DataFrame(peaks, columns=["session_id", "peak_value"])


def check_rows(check: predictive.FitCheck, squad: Squad) -> FitCheck:
    """Return a check of the model and the noise of the squad as the store keeps them."""
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
    """Return `db.fits.best_volume_changes.CHANGE_COLUMNS` by athlete with enough sessions."""
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
    """Return what looks wrong as the store keeps it; `rows` are what was fitted, in order."""
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
    """Return what made a fit and what it says about the squad; `earlier` is what it was given."""
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
