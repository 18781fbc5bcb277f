"""Tables of the page Reliability: every estimate, and how many sessions it takes."""

from __future__ import annotations

import pandas as pd

from dashboard.core.numbers import percent, with_interval
from dashboard.fits.reliability_frames import MeasureReliability
from dashboard.screen import units
from dashboard.trust.reliability_charts import Estimates
from dashboard.trust.reliability_numbers import percents, plain_estimate, sessions_needed
from db.fits.fit_checks import FitCheck
from db.fits.results import KeptFit
from db.roster.measures import Measure


def numbers_table(
    found: Estimates, measure: Measure, fit: KeptFit | None, check: FitCheck | None
) -> pd.DataFrame:
    """Return every estimate with its 90 % interval, in the unit and in %."""
    unit = f"value, {units.shown(measure.unit).unit}"
    both = {
        "typical error": "typical_error",
        "minimal detectable change (95\u00a0%)": "minimal_detectable",
        "spread between athletes, free of noise": "between_athletes",
        "smallest worthwhile change (a fifth of it)": "smallest_worthwhile",
    }
    rows = [
        {
            "what": name,
            unit: plain_estimate(found[key], found),
            "value, %": percents(found[f"{key}_pct"]),
        }
        for name, key in both.items()
    ]
    rows.append(
        {"what": "the team's own setting", unit: "", "value, %": percent(measure.worthwhile_pct)}
    )
    if "change_in_mean" in found:
        for name, key in (
            ("change in the mean, second session of a pair", "change_in_mean"),
            ("lower limit of agreement", "lower_limit"),
            ("upper limit of agreement", "upper_limit"),
        ):
            rows.append({"what": name, unit: plain_estimate(found[key], found), "value, %": ""})
    rows.append(
        {
            "what": "trend from session to session",
            unit: "",
            "value, %": percents(found["trend_pct"], 2),
        }
    )
    for name, key in (("ICC(3,1), consistency", "icc_3_1"), ("ICC(2,1), agreement", "icc_2_1")):
        rows.append(
            {"what": f"{name} (no unit)", unit: with_interval(*found[key], 2), "value, %": ""}
        )
    if fit and check:
        for name, size in (("day", "day_noise_pct"), ("effort", "effort_noise_pct")):
            ends = (getattr(check, f"{size}_{end}") for end in ("low", "high"))
            shown = percents((getattr(fit, size), *ends))
            rows.append({"what": f"{name} noise, by the model", unit: "", "value, %": shown})
    return pd.DataFrame(rows)


def needs_table(kept: MeasureReliability, measure: Measure) -> pd.DataFrame:
    """Return, by efforts in a session, the change one session shows and the sessions needed."""
    setting = f"sessions to show {percent(measure.worthwhile_pct)}"
    return pd.DataFrame(
        [
            {
                "efforts in a session": int(row["efforts"]),
                "change that one session shows": percents(
                    (row["detectable_pct"], row["detectable_pct_low"], row["detectable_pct_high"])
                ),
                "sessions to show the smallest worthwhile": sessions_needed(row, "smallest", ""),
                setting: sessions_needed(row, "setting", ""),
            }
            for row in kept.needs.to_dict("records")
        ]
    )
