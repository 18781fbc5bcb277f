from __future__ import annotations

import json
from dataclasses import replace
from importlib.metadata import version

import numpy as np
import pandas as pd
import pytest

from dashboard.fits import usual_terms
from dashboard.fits.fit_frames import kept_responses
from dashboard.fits.fitting import CannotFit, fit_all, fit_measure
from db.efforts.rows import observations
from db.file.checks import check
from db.file.store import Store
from db.fits.best_volume_changes import best_volume_changes
from db.fits.fit_checks import latest_check
from db.fits.results import KeptFit, curves, latest_fit, newer_data, responses, squad_curve
from db.fits.squad_worth import squad_worth
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.roster.athletes import save_athletes
from db.roster.measures import get_measure, save_measure
from modeling import Curve, Estimate, ModelError, Response
from tests.dashboard import artificial
from tests.dashboard.conftest import fill, new_store

ROUTINE = b"""athlete,started_at,measure,effort,value,volume_before,kind
A1,2026-04-01T10:00,jump_height,1,38.2,8,routine
A1,2026-04-01T10:00,jump_height,2,38.4,12,routine
A2,2026-04-01T11:00,jump_height,1,41.2,19,routine
A2,2026-04-01T11:00,jump_height,2,41.0,21,routine
"""


@pytest.fixture(scope="module")
def fitted(tmp_path_factory: pytest.TempPathFactory) -> tuple[Store, KeptFit, list[float]]:
    """Fit the five artificial athletes, one of them untested, and one more who has left."""
    store = new_store(tmp_path_factory.mktemp("fitting") / "club.duckdb")
    fill(store, fitted=False)
    left = artificial.athlete_rows().tail(1).assign(athlete="A6", name="Gone Six", active="no")
    save_athletes(store, left, "test")
    told: list[float] = []
    kept = fit_measure(store, "jump_height", "test", lambda share, what: told.append(share))
    return store, kept, told


def test_a_fit_says_what_it_is_based_on(fitted: tuple[Store, KeptFit, list[float]]) -> None:
    store, kept, _ = fitted
    rows = observations(store, "jump_height")
    assert (kept.athletes, kept.sessions, kept.efforts) == (4, 17, len(rows))
    assert kept == latest_fit(store, "jump_height")
    assert kept.version == version("warmcurve")
    in_usual_terms = usual_terms.latest_fit(store, "jump_height")
    assert in_usual_terms is not None
    assert in_usual_terms.standard_volume == artificial.STANDARD
    # All sessions are in the morning, when an effort counts for a little less.
    assert 0.8 * artificial.STANDARD < kept.standard_volume < artificial.STANDARD
    told = json.loads(kept.settings_json)
    assert told["worthwhile_pct"] == kept.worthwhile_pct == 1.5
    assert told["effort_rest_seconds"] == 15.0  # what a jump asks for
    assert kept.seconds > 0
    assert newer_data(store, "jump_height") == 0


def test_every_active_athlete_has_a_response(
    fitted: tuple[Store, KeptFit, list[float]],
) -> None:
    rows = responses(fitted[0], "jump_height").set_index("athlete")
    assert sorted(rows.index) == ["A1", "A2", "A3", "A4", "A5"]
    assert rows["sessions"].to_dict() == {"A1": 5, "A2": 6, "A3": 4, "A4": 2, "A5": 0}
    ordered = rows[["best_volume_low", "best_volume_q25", "best_volume"]]
    assert (np.diff(ordered.to_numpy()) >= 0).all()
    chances = rows[["chance_short", "chance_long", "chance_either"]].sum(axis=1)
    assert np.allclose(chances, 1.0)
    assert rows.loc["A1", "best_volume"] > rows.loc["A2", "best_volume"]


def test_untested_athlete_gets_the_squads_curve_and_no_call(
    fitted: tuple[Store, KeptFit, list[float]],
) -> None:
    store = fitted[0]
    untested = responses(store, "jump_height", "A5").iloc[0]
    assert untested["call"] == "not known"
    assert pd.isna(untested["last_session"])
    own, squad = curves(store, "jump_height", "A5"), squad_curve(store, "jump_height")
    np.testing.assert_allclose(own["change_pct"], squad["change_pct"], atol=0.5)


def test_a_fit_is_saved_with_a_check_of_its_model(
    fitted: tuple[Store, KeptFit, list[float]],
) -> None:
    store, kept, _ = fitted
    found = latest_check(store, "jump_height")
    assert found is not None
    assert found.effort_noise_pct_low < kept.effort_noise_pct < found.effort_noise_pct_high
    assert found.day_noise_pct_low < kept.day_noise_pct < found.day_noise_pct_high
    assert found.bands["efforts"].sum() == kept.efforts
    terms = usual_terms.usual_terms(store, "jump_height")
    assert terms is not None
    assert terms.to_do(found.bands["highest_volume"].max()) == pytest.approx(11.0)
    assert found.places["tenth"].tolist() == list(range(1, 11))
    assert found.places["sessions"].sum() == found.sessions <= kept.sessions
    assert found.sessions_inside <= found.sessions and found.efforts_inside <= found.efforts


def test_a_fit_is_saved_with_the_worth_of_individual_lengths_and_with_changes(
    fitted: tuple[Store, KeptFit, list[float]],
) -> None:
    store, kept, _ = fitted
    worth = squad_worth(store, "jump_height")
    assert worth["against"].tolist() == ["best single", "standard"]
    assert worth["volume"].tolist() == [kept.best_single_volume, kept.standard_volume]
    assert worth["worth_pct"][0] == kept.worth_of_individual_pct
    assert worth["athletes"].tolist() == [4, 4]
    changes = best_volume_changes(store, "jump_height")
    assert sorted(changes["athlete"]) == ["A1", "A2", "A3"]
    assert changes["chance"].between(0, 1).all()


def test_every_session_has_a_peak_in_the_unit_of_the_values(
    fitted: tuple[Store, KeptFit, list[float]],
) -> None:
    store = fitted[0]
    with store.reading() as cursor:
        peaks = cursor.execute("SELECT session_id, peak_value FROM latest_session_peak").df()
    rows = observations(store, "jump_height")
    best = rows.groupby("session_id")["value"].max()
    assert sorted(peaks["session_id"]) == sorted(best.index)
    assert peaks["peak_value"].between(35, 45).all()


def test_progress_runs_from_start_to_end(fitted: tuple[Store, KeptFit, list[float]]) -> None:
    told = fitted[2]
    assert (told[0], told[-1]) == (0.0, 1.0)
    assert told == sorted(told)
    assert len(told) > 4


def test_store_stays_sound(fitted: tuple[Store, KeptFit, list[float]]) -> None:
    assert check(fitted[0]) == []


def test_chances_past_1_by_rounding_are_saved_as_1(
    fitted: tuple[Store, KeptFit, list[float]],
) -> None:
    rows = observations(fitted[0], "jump_height")
    curve = Curve(*(np.zeros(2) for _ in range(4)))
    half = Estimate(1.0, 1.0, 1.0)
    response = Response(
        *("A1", 1, 1, half, (1.0, 1.0), half, half, 1.0, half),
        *(1.0000000000000002, 0.0, 0.0, "short", None, "inside", curve, {}),
    )
    assert kept_responses([response], rows)["chance_short"].tolist() == [1.0]


class Refusing:
    """A model that notes its settings and finds the rows too few."""

    settings: dict[str, object] = {}

    def __init__(self, **settings: object) -> None:
        Refusing.settings = settings

    def fit(self, *rows: object, **how: object) -> None:
        raise ModelError("two athletes at least.")


@pytest.fixture
def refusing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("modeling.ResponseModel", Refusing)


def refused_settings(store: Store) -> dict[str, object]:
    with pytest.raises(CannotFit, match="Jump height cannot be fitted: two athletes at least"):
        fit_measure(store, "jump_height", "test")
    return Refusing.settings


@pytest.mark.usefixtures("refusing")
def test_the_standard_is_as_set_or_else_routine_or_else_left_to_the_model(
    unfitted_store: Store,
) -> None:
    assert refused_settings(unfitted_store)["standard_volume"] == artificial.STANDARD
    measure = get_measure(unfitted_store, "jump_height")
    save_measure(unfitted_store, replace(measure, standard_volume=None), "test")
    assert refused_settings(unfitted_store)["standard_volume"] is None
    import_efforts(unfitted_store, read_table(ROUTINE, "routine.csv"), "test")
    assert refused_settings(unfitted_store)["standard_volume"] == 15.0


@pytest.mark.usefixtures("refusing")
def test_direction_and_worthwhile_change_reach_the_model(unfitted_store: Store) -> None:
    measure = replace(get_measure(unfitted_store, "jump_height"), better="lower", worthwhile_pct=2)
    save_measure(unfitted_store, measure, "test")
    settings = refused_settings(unfitted_store)
    assert (settings["higher_is_better"], settings["worthwhile_pct"]) == (False, 2)


@pytest.mark.usefixtures("refusing")
def test_a_measure_that_cannot_be_fitted_does_not_stop_the_others(unfitted_store: Store) -> None:
    outcomes = fit_all(unfitted_store, "test")
    assert [(each.measure.code, each.fit) for each in outcomes] == [("jump_height", None)]
    assert "two athletes at least" in outcomes[0].problem


@pytest.mark.parametrize(
    ("usable", "sentence"),
    [(0, "0 usable efforts at 0 volumes"), (9, "9 usable efforts at 9 volumes")],
)
def test_too_few_efforts_are_reported_with_what_is_needed(
    empty_store: Store, usable: int, sentence: str
) -> None:
    save_athletes(empty_store, artificial.athlete_rows(), "test")
    lines = artificial.efforts_csv().splitlines()[: 1 + usable]
    if usable:
        import_efforts(empty_store, read_table(b"\n".join(lines), "a.csv"), "test")
    with pytest.raises(CannotFit, match=f"{sentence}.*at least 10 efforts at 3 volumes"):
        fit_measure(empty_store, "jump_height", "test")


def test_efforts_at_one_volume_are_not_enough(empty_store: Store) -> None:
    save_athletes(empty_store, artificial.athlete_rows(), "test")
    lines = [ROUTINE.splitlines()[0]]
    lines += [b"A1,2026-04-01T10:00,jump_height,%d,38.2,8,routine" % n for n in range(1, 13)]
    import_efforts(empty_store, read_table(b"\n".join(lines), "a.csv"), "test")
    with pytest.raises(CannotFit, match="12 usable efforts at 1 volume"):
        fit_measure(empty_store, "jump_height", "test")


def test_a_store_without_efforts_is_reported(empty_store: Store) -> None:
    with pytest.raises(CannotFit, match="no efforts yet. Import a file of efforts"):
        fit_all(empty_store, "test")
