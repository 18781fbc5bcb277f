from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from dashboard.fitting import CannotFit, fit_all, fit_measure
from db.athletes import save_athletes
from db.effort_files import read_table
from db.imports import import_efforts
from db.measures import get_measure, routine_median_volume, save_measure
from db.results import curves, latest_fit, newer_data, responses, session_peaks, squad_curve
from db.store import Store
from modeling.simulation import Noise, Protocol, simulate_squad, simulated_truths

CODES = ["A1", "A2", "A3", "A4"]


@pytest.fixture(scope="module")
def fitted_store(tmp_path_factory: pytest.TempPathFactory) -> Store:
    """Four simulated athletes with efforts, one without and one who has left, fitted once."""
    store = Store(tmp_path_factory.mktemp("fitting") / "club.duckdb")
    store.create()
    save_athletes(
        store,
        pd.DataFrame(
            {
                "athlete": [*CODES, "A5", "A6"],
                "name": [f"Athlete {number}" for number in range(1, 7)],
                "active": ["yes"] * 5 + ["no"],
            }
        ),
        "test",
    )
    import_efforts(store, read_table(efforts_file(), "efforts.csv"), "test")
    told.clear()
    fit_measure(store, "jump_height", "test", lambda share, what: told.append((share, what)))
    return store


told: list[tuple[float, str]] = []


def efforts_file() -> bytes:
    rng = np.random.default_rng(7)
    squad = simulate_squad(simulated_truths("Ricker", len(CODES), rng), Protocol(), Noise(), rng)
    names = dict(zip(sorted(squad["athlete"].unique()), CODES, strict=True))
    started_at = pd.Timestamp("2026-03-01T10:00") + pd.to_timedelta(squad["session"].map(
        {session: number for number, session in enumerate(sorted(squad["session"].unique()))}
    ), unit="D")
    rows = pd.DataFrame(
        {
            "athlete": squad["athlete"].map(names),
            "started_at": started_at.dt.strftime("%Y-%m-%dT%H:%M"),
            "measure": "jump_height",
            "effort": squad.groupby("session").cumcount() + 1,
            "value": squad["value"].round(2),
            "volume_before": squad["volume"],
        }
    )
    return rows.to_csv(index=False).encode()
