"""Noise against signal by measure: the noise that hides a change, and the changes worth seeing."""

from __future__ import annotations

import pandas as pd

from dashboard.fits.reliability_frames import measure_reliability
from db.efforts.rows import measured
from db.file.store import Store
from db.fits.fit_checks import latest_check
from db.fits.results import latest_fit

SIZES = {"typical error": "typical_error_pct", "a fifth of the spread": "smallest_worthwhile_pct"}
SIGNALS = ("a fifth of the spread", "the team's setting")


def noise_and_signal(store: Store, basis: str) -> pd.DataFrame:
    """Return a row per measure and size, all in %, for the measures that could be compared.

    Columns: `measure` (its code), `measure_name`, `name`, `size`, `size_low`, `size_high`. A
    setting has no interval: both ends equal it. Noise comes first, then the changes worth seeing.
    """
    records = []
    for measure in measured(store):
        estimates = measure_reliability(store, measure.code).estimates
        found = estimates[estimates["basis"] == basis].set_index("quantity")
        if found.empty:
            continue
        fit, check = latest_fit(store, measure.code), latest_check(store, measure.code)
        sizes = {
            name: tuple(found.loc[quantity, ["estimate", "low", "high"]])
            for name, quantity in SIZES.items()
        }
        if fit and check:
            for name, size in (
                ("effort to effort", "effort_noise_pct"),
                ("day to day", "day_noise_pct"),
            ):
                low, high = (getattr(check, f"{size}_{end}") for end in ("low", "high"))
                sizes[name] = (getattr(fit, size), low, high)
        sizes["the team's setting"] = (measure.worthwhile_pct,) * 3
        order = ("effort to effort", "day to day", "typical error", *SIGNALS)
        records += [
            (measure.code, measure.name, name, *sizes[name]) for name in order if name in sizes
        ]
    columns = ["measure", "measure_name", "name", "size", "size_low", "size_high"]
    return pd.DataFrame(records, columns=columns)
