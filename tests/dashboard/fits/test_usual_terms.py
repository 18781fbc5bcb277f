"""Volumes in effect turned into volumes to do, checked against the account's closed form."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from dashboard.fits import usual_terms
from dashboard.fits.fitting import fit_measure
from dashboard.fits.kept_curves import kept_draws
from dashboard.fits.usual_terms import UsualTerms
from db.file.checks import check
from db.fits import results
from db.fits.advice_bases import AdviceBase, account_constants
from db.roster.measures import get_measure
from modeling.curve.account import Account
from modeling.day.goal_advice import advise
from tests.dashboard import artificial
from tests.dashboard.conftest import fill, new_store

ACCOUNT = Account(0.5, 20.0, 0.01, 0.0)
TERMS = UsualTerms.of(AdviceBase(15.0, 10.0, 20.0, 10.0, 18.0, np.array([0.0, 100.0])), ACCOUNT)
SHARE = 0.5 * np.exp(-0.1)  # half is left after 20 minutes, and ten degrees take a tenth
CURVE = pd.DataFrame(
    {
        "athlete": ["A1"] * 3 + ["A2"] * 3,
        "volume": [0.0, 4.0, 8.0] * 2,
        "change_pct": [-6.0, -2.0, 0.0, -3.0, -1.0, 0.0],
        "change_pct_low": -7.0,
        "change_pct_high": 0.0,
    }
)


def test_the_volume_to_do_has_the_effect_that_was_asked_for() -> None:
    wanted = np.array([3.0, 10.0, 40.0])
    assert TERMS.to_do(wanted) == pytest.approx(wanted / SHARE - 5.0)
    assert TERMS.share == pytest.approx(SHARE)
    # The general part alone counts for 5 efforts, so for less than that nothing is left to do.
    assert TERMS.to_do(0.9 * 5.0 * SHARE) == 0.0


def test_a_curve_begins_with_the_general_part_alone() -> None:
    turned = TERMS.curve_rows(CURVE)
    begins = turned[turned["volume"] == 0.0].set_index("athlete")["change_pct"]
    in_effect = 5.0 * SHARE
    assert begins["A1"] == pytest.approx(np.interp(in_effect, [0, 4, 8], [-6, -2, 0]))
    assert begins["A2"] == pytest.approx(np.interp(in_effect, [0, 4, 8], [-3, -1, 0]))
    assert turned.groupby("athlete")["volume"].max().to_dict() == pytest.approx(
        dict.fromkeys(["A1", "A2"], 8.0 / SHARE - 5.0)
    )


def test_efforts_are_placed_at_the_usual_volume_that_counts_as_much() -> None:
    rows = pd.DataFrame(
        {
            "session_id": [1, 1, 2, 3, 3],
            "started_at": pd.to_datetime(["2026-04-01T18:00"] * 5),
            "volume": [10.0, 11.0, 10.0, 10.0, 11.0],
            "general_minutes": [10.0, 10.0, np.nan, 10.0, 10.0],
            "rest_minutes": [20.0, 20.0, np.nan, 20.0, 20.0],
            "effort_rest_seconds": [20.0, 20.0, np.nan, 1220.0, 1220.0],
            "ambient_c": [10.0, 10.0, 20.0, 10.0, 10.0],
        }
    )
    first, second, third, begun, rested = TERMS.as_done(rows, 20.0)
    assert first == pytest.approx(10.0)  # as usual
    # An effort after the rest counts in full, which is twice as much as one before it.
    assert second == pytest.approx(12.0)
    # Without rest, and at 20 degrees, the same counts for more; the general part is the usual one.
    assert third == pytest.approx((10.0 + 5.0) / SHARE - 5.0)
    # The rest between the two is 20 minutes longer than asked, which halves again what was before.
    assert begun == pytest.approx(10.0)
    assert rested == pytest.approx((10.0 + 5.0) / 2.0 + 2.0 - 5.0)


def test_a_fit_saves_what_advice_needs(tmp_path: Path) -> None:
    store = new_store(tmp_path / "club.duckdb")
    fill(store, fitted=False)
    for _ in range(2):
        fit_measure(store, "jump_height", "test")
    drawn, rows = kept_draws(store, "jump_height"), results.responses(store, "jump_height")
    assert sorted(drawn) == sorted(rows["athlete"]) and not check(store)
    assert {code: each.sessions for code, each in drawn.items()} == dict(
        zip(rows["athlete"], rows["sessions"], strict=True)
    )
    constants = account_constants(store, "jump_height").set_index("constant")["status"]
    assert constants["half_life_minutes"] == "default"  # no rest was recorded
    terms = usual_terms.usual_terms(store, "jump_height")
    fit = usual_terms.latest_fit(store, "jump_height")
    assert terms is not None and fit is not None
    assert fit.standard_volume == artificial.STANDARD
    shown = usual_terms.responses(store, "jump_height").set_index("athlete")["best_volume"]
    kept = rows.set_index("athlete")["best_volume"]
    assert shown.to_numpy() == pytest.approx(terms.to_do(kept.loc[shown.index]))
    told = advise(drawn["A1"])
    assert told.volume == pytest.approx(
        usual_terms.responses(store, "jump_height", "A1")["advised_volume"].iloc[0], abs=2.0
    )
    placed = usual_terms.placed_efforts(store, get_measure(store, "jump_height"), "A1")
    assert placed["volume"].ge(0).all() and len(placed) > 10
    history = usual_terms.response_history(store, "jump_height", "A1")
    assert history["best_volume"].tolist() == pytest.approx([shown["A1"]] * 2)
