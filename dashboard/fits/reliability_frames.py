"""How well a measure repeats, worked out from its stored routine sessions; no curve is needed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from math import isfinite
from typing import TYPE_CHECKING

import pandas as pd

from db.efforts.rows import observations
from db.file.store import Store
from db.fits.fit_checks import latest_check
from db.fits.results import latest_fit
from db.people.sight import whole
from db.roster.athletes import list_athletes
from db.roster.measures import Measure, get_measure

if TYPE_CHECKING:
    from modeling.repeat.reliability import Reliability
    from modeling.repeat.usual_sessions import UsualSessions
    from modeling.repeat.variance_components import Bounded

BASES = ("mean", "best")
EFFORTS_ASKED: tuple[int, ...] = (1, 2, 3, 5, 10)
"""Efforts per session for which `NEED_COLUMNS` are worked out."""
ESTIMATE_COLUMNS = ["basis", "quantity", "estimate", "low", "high"]
TRIAL_COLUMNS = "basis trial change_pct change_pct_low change_pct_high athletes".split()
NEED_COLUMNS = (
    "efforts detectable_pct detectable_pct_low detectable_pct_high smallest_sessions "
    "smallest_sessions_low smallest_sessions_high setting_sessions setting_sessions_low "
    "setting_sessions_high"
).split()


@dataclass(frozen=True)
class Noise:
    """Spread of days and of efforts in %, with 90 % intervals."""

    day: Bounded
    effort: Bounded


@dataclass(frozen=True)
class MeasureReliability:
    """How well a measure repeats.

    Attributes
    ----------
    usual_efforts : int
        Efforts that a compared session usually has; 0 if none could be compared.
    compared : DataFrame
        A row per routine session in sight: `athlete`, `name`, `session_id`, `trial` (missing
        if its volume was not the usual one), `mean_value`, `best_value`.
    estimates : DataFrame
        A row per basis and quantity: `ESTIMATE_COLUMNS`; empty if too little is known.
    trials : DataFrame
        A row per basis and trial: `TRIAL_COLUMNS`; `athletes` counts those in sight who had it.
    needs : DataFrame
        A row per number of efforts: `NEED_COLUMNS`; missing if not known or infinite.
    by_model : bool
        Whether `needs` use the noise that the newest fit found, not that of these sessions alone.
    """

    usual_efforts: int
    compared: pd.DataFrame
    estimates: pd.DataFrame
    trials: pd.DataFrame
    needs: pd.DataFrame
    by_model: bool

    @property
    def athletes(self) -> int:
        """Athletes in sight with a session that was compared."""
        return int(self.compared.loc[self.compared["trial"].notna(), "athlete"].nunique())

    @property
    def sessions(self) -> int:
        """Sessions in sight that were compared."""
        return int(self.compared["trial"].count())

    @property
    def other_sessions(self) -> int:
        """Routine sessions in sight that were not compared, because of their volume."""
        return len(self.compared) - self.sessions


def measure_reliability(store: Store, code: str) -> MeasureReliability:
    """Compare the routine sessions of a measure with each other, as they are stored now.

    The estimates use all athletes, whoever asks. The sessions and counts are only those of the
    athletes in sight.
    """
    everybody = whole(store)
    names = list_athletes(store).set_index("athlete")["name"]
    return reliability_of(
        observations(everybody, code),
        get_measure(store, code),
        _model_noise(everybody, code),
        names,
    )


def reliability_of(
    rows: pd.DataFrame, measure: Measure, model: Noise | None, names: Mapping[str, str] | pd.Series
) -> MeasureReliability:
    """Compare the routine sessions among some rows with each other.

    Parameters
    ----------
    rows
        All usable efforts: `db.efforts.rows.observations`.
    measure
        The measure, with the team's smallest worthwhile change.
    model
        The noise that a fit found; without it, the noise comes from these sessions.
    names
        Names of the athletes in sight, by code.
    """
    from modeling.errors import ModelError
    from modeling.repeat.reliability import reliability
    from modeling.repeat.usual_sessions import usual_sessions

    routine = rows[rows["kind"] == "routine"].rename(columns={"session_id": "session"})
    usual = usual_sessions(routine, measure.better == "higher")
    compared = _compared(usual, names)
    estimates = trials = needs = None
    try:
        found = reliability(usual.trials, BASES)
    except ModelError:
        # Too little to compare: the caller says so, and what to do about it.
        pass
    else:
        estimates = [
            {"basis": basis, "quantity": quantity} | _ends(bounded)
            for basis in BASES
            for quantity, bounded in _quantities(found[basis], usual, basis).items()
        ]
        had = compared["trial"].value_counts()
        trials = [
            {"basis": basis, "trial": each.trial, "athletes": int(had.get(each.trial, 0))}
            | _named("change_pct", each.change_pct)
            for basis in BASES
            for each in found[basis].trials
        ]
        needs = _needs(found["mean"], measure.worthwhile_pct, usual, model)
    return MeasureReliability(
        usual_efforts=usual.usual_efforts,
        compared=compared,
        estimates=pd.DataFrame(estimates, columns=ESTIMATE_COLUMNS),
        trials=pd.DataFrame(trials, columns=TRIAL_COLUMNS),
        needs=pd.DataFrame(needs, columns=NEED_COLUMNS).astype(float),
        by_model=model is not None,
    )


def _model_noise(store: Store, code: str) -> Noise | None:
    """Return the noise that the newest fit found; None without a fit or its check."""
    from modeling.repeat.variance_components import Bounded

    fit, check = latest_fit(store, code), latest_check(store, code)
    if fit is None or check is None:
        return None
    return Noise(
        Bounded(fit.day_noise_pct, check.day_noise_pct_low, check.day_noise_pct_high),
        Bounded(fit.effort_noise_pct, check.effort_noise_pct_low, check.effort_noise_pct_high),
    )


def _compared(usual: UsualSessions, names: Mapping[str, str] | pd.Series) -> pd.DataFrame:
    columns = {"session": "session_id", "mean": "mean_value", "best": "best_value"}
    rows = usual.sessions.rename(columns=columns)
    rows.insert(1, "name", rows["athlete"].map(names))
    return rows[rows["name"].notna()].sort_values(["athlete", "trial"], ignore_index=True)


def _quantities(found: Reliability, usual: UsualSessions, basis: str) -> dict[str, Bounded]:
    """Return every estimate by its name."""
    from modeling.repeat.variance_components import Bounded

    quantities = {
        field.name: value
        for field in fields(found)
        if isinstance(value := getattr(found, field.name), Bounded)
    }
    if found.pairs:
        quantities["change_in_mean"] = found.pairs.difference
        quantities["lower_limit"] = found.pairs.lower
        quantities["upper_limit"] = found.pairs.upper
    lead = usual.best_above_mean_pct()
    return quantities | ({"best_above_mean_pct": lead} if basis == "best" and lead else {})


def _needs(
    mean: Reliability, setting_pct: float, usual: UsualSessions, model: Noise | None
) -> list[dict[str, float | None]]:
    from modeling.repeat.detection import detectable_change, sessions_needed
    from modeling.repeat.variance_components import Bounded

    setting = Bounded(setting_pct, setting_pct, setting_pct)
    noise, asked = model or _own_noise(mean, usual), EFFORTS_ASKED
    if noise is None:
        # Single efforts do not tell how much more efforts per session would help.
        noise, asked = Noise(mean.typical_error_pct, Bounded(0.0, 0.0, 0.0)), (1,)
    records = []
    for efforts in asked:
        shows = detectable_change(noise.day, noise.effort, efforts)
        records.append(
            {"efforts": efforts}
            | _named("detectable_pct", shows)
            | _named("smallest_sessions", sessions_needed(shows, mean.smallest_worthwhile_pct))
            | _named("setting_sessions", sessions_needed(shows, setting))
        )
    return records


def _own_noise(mean: Reliability, usual: UsualSessions) -> Noise | None:
    """Return the noise that these sessions show; None if each has a single effort."""
    from modeling.repeat.detection import day_noise

    effort = usual.effort_noise_pct()
    if effort is None:
        return None
    return Noise(day_noise(mean.typical_error_pct, effort, usual.usual_efforts), effort)


def _ends(bounded: Bounded) -> dict[str, float]:
    found = asdict(bounded)
    return {"estimate": found["value"], "low": found["low"], "high": found["high"]}


def _named(name: str, bounded: Bounded | None) -> dict[str, float | None]:
    """Return an estimate as three columns; numbers that are not known or infinite are missing."""
    if bounded is None:
        return dict.fromkeys((name, f"{name}_low", f"{name}_high"))
    high = bounded.high if isfinite(bounded.high) else None
    return {name: bounded.value, f"{name}_low": bounded.low, f"{name}_high": high}
