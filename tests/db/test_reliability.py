from __future__ import annotations

from dataclasses import replace

import duckdb
import numpy as np
import pandas as pd
import pytest

from db.checks import check
from db.errors import BadInput
from db.exports import export_frame
from db.reliability import ReliabilityRows, latest_reliability, measure_estimates
from db.results import CURVE_COLUMNS, PEAK_COLUMNS, RESPONSE_COLUMNS, Conclusions, keep_fit
from tests.dashboard import artificial

ROUTINE = [
    f"{code},2026-03-{day:02d}T09:00,jump_height,1,{value},15"
    for code, values in {"A1": (40, 41, 39), "A2": (50, 52)}.items()
    for day, value in enumerate(values, start=1)
]
QUANTITIES = {
    "typical_error": (1.0, 0.8, 1.4),
    "typical_error_pct": (2.5, 2.0, 3.5),
    "icc_3_1": (0.9, 0.8, 0.95),
    "icc_2_1": (0.88, 0.7, 0.94),
    "change_in_mean": (0.1, -0.4, 0.6),
    "smallest_worthwhile": (0.6, 0.4, 1.0),
    "minimal_detectable": (2.8, 2.2, 3.9),
}


def rows_of(sessions: list[int]) -> ReliabilityRows:
    estimates = [
        (basis, quantity, *(factor * end for end in ends))
        for basis, factor in (("mean", 1.0), ("best", 1.5))
        for quantity, ends in QUANTITIES.items()
    ]
    return ReliabilityRows(
        usual_efforts=1,
        compared=pd.DataFrame(
            {
                "session_id": sessions,
                "trial": [1, 2, None, 1, 2],
                "mean_value": 40.0,
                "best_value": 41.0,
            }
        ),
        estimates=pd.DataFrame(estimates, columns=["basis", "quantity", "estimate", "low", "high"]),
        trials=pd.DataFrame(
            {
                "basis": "mean",
                "trial": [1, 2],
                "change_pct": [0.0, 1.0],
                "change_pct_low": [0.0, -1.0],
                "change_pct_high": [0.0, 3.0],
            }
        ),
        needs=pd.DataFrame(
            {
                "efforts": [1, 3],
                "detectable_pct": [9.0, 7.0],
                "detectable_pct_low": [8.0, 6.0],
                "detectable_pct_high": [10.0, 8.0],
                "smallest_sessions": [30.0, np.nan],
                "smallest_sessions_low": [20.0, np.nan],
                "smallest_sessions_high": np.nan,
                "setting_sessions": [40.0, 25.0],
                "setting_sessions_low": [35.0, 20.0],
                "setting_sessions_high": [45.0, 30.0],
            }
        ),
    )


def kept(store, reliability: ReliabilityRows | None) -> int:
    athletes = {code: artificial.ATHLETES[code] for code in ("A1", "A2")}
    return keep_fit(
        store,
        "tester",
        "jump_height",
        artificial.fit_facts(store.revision()),
        artificial.responses(athletes)[RESPONSE_COLUMNS],
        artificial.kept_curves(athletes)[CURVE_COLUMNS],
        pd.DataFrame(columns=PEAK_COLUMNS),
        Conclusions(reliability=reliability),
    )


@pytest.fixture
def compared(store, bring):
    """The store with five routine sessions, and a fit that compares four of them."""
    bring(*ROUTINE)
    with store.reading() as cursor:
        found = cursor.execute("SELECT session_id FROM session ORDER BY athlete, started_at")
        sessions = [row[0] for row in found.fetchall()]
    kept(store, rows_of(sessions))
    return store, rows_of(sessions)


def test_what_is_kept_comes_back_with_what_it_stands_on(compared) -> None:
    store, rows = compared
    found = latest_reliability(store, "jump_height")
    assert found is not None
    assert (found.athletes, found.sessions, found.other_sessions) == (2, 4, 1)
    assert found.usual_efforts == 1
    assert found.compared["athlete"].tolist() == ["A1", "A1", "A1", "A2", "A2"]
    assert found.compared["trial"].tolist()[:2] == [1, 2]
    assert found.trials["athletes"].tolist() == [2, 2]
    assert found.needs["smallest_sessions"].tolist()[:1] == [30.0]
    assert found.needs["smallest_sessions"].isna().tolist() == [False, True]
    assert len(found.estimates) == len(rows.estimates)
    assert check(store) == []


def test_the_export_has_the_columns_of_the_interface(compared) -> None:
    store, _ = compared
    frame = export_frame(store, "reliability")
    assert list(frame) == (
        "measure, basis, athletes, sessions, typical_error, typical_error_low, "
        "typical_error_high, cv_pct, icc_3_1, icc_2_1, change_in_mean, smallest_worthwhile, "
        "minimal_detectable"
    ).split(", ")
    assert frame["basis"].tolist() == ["mean", "best"]
    mean = frame.iloc[0].to_dict()
    assert (mean["athletes"], mean["sessions"], mean["cv_pct"]) == (2, 4, 2.5)
    assert (mean["typical_error_low"], mean["typical_error_high"]) == (0.8, 1.4)
    assert frame["minimal_detectable"].tolist() == [2.8, pytest.approx(4.2)]
    assert export_frame(store, "reliability", "throw_speed").empty


def test_a_newer_fit_stands_in_front(compared) -> None:
    store, _ = compared
    kept(store, None)
    assert latest_reliability(store, "jump_height") is None
    assert measure_estimates(store, "mean").empty


def test_estimates_of_every_measure_are_listed(compared) -> None:
    store, _ = compared
    found = measure_estimates(store, "best").set_index("quantity")
    assert found["estimate"].to_dict() == pytest.approx(
        {quantity: 1.5 * ends[0] for quantity, ends in QUANTITIES.items()}
    )


def test_too_few_sessions_are_kept_as_that(store, bring) -> None:
    bring(*ROUTINE)
    nothing = rows_of([1, 2, 3, 4, 5])
    empty = ReliabilityRows(
        0,
        *(
            frame.head(0)
            for frame in (nothing.compared, nothing.estimates, nothing.trials, nothing.needs)
        ),
    )
    kept(store, empty)
    found = latest_reliability(store, "jump_height")
    assert found is not None and found.estimates.empty
    assert (found.athletes, found.sessions, found.other_sessions) == (0, 0, 0)


def test_a_number_that_is_missing_is_refused(compared) -> None:
    store, rows = compared
    wrong = replace(rows, needs=rows.needs.assign(detectable_pct=np.nan))
    with pytest.raises(BadInput, match="needs of a fit have a detectable_pct that is missing"):
        kept(store, wrong)


@pytest.mark.parametrize(
    ("table", "change"),
    [
        ("reliability_estimate", "low = estimate + 1"),
        ("reliability_estimate", "basis = 'worst'"),
        ("reliability_trial", "change_pct_high = -9"),
        ("reliability_need", "setting_sessions_low = 99"),
        ("reliability_session", "mean_value = 0"),
    ],
)
def test_tables_refuse_what_must_not_be_there(compared, table: str, change: str) -> None:
    store, _ = compared
    with pytest.raises(duckdb.ConstraintException, match=f'CHECK.*table "{table}"'):
        with store.writing("tester", "break") as cursor:
            cursor.execute(f"UPDATE {table} SET {change}")
