from __future__ import annotations

from dataclasses import replace

import pytest

from dashboard.fits.usual_terms import placed_efforts
from dashboard.screen import reads
from dashboard.screen.reads import ask
from dashboard.squad.ranking import squad
from db.file.settings import get_setting, set_setting
from db.file.store import Store
from db.roster.athletes import list_athletes
from db.roster.measures import get_measure
from tests.dashboard.conftest import PEOPLE


@pytest.fixture(autouse=True)
def _looked_at_by_a_director(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reads, "signed_in", lambda: PEOPLE[0])


def test_an_answer_is_remembered_until_the_store_changes(
    filled_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []

    def question(store: Store, key: str) -> str | None:
        asked.append(key)
        return get_setting(store, key)

    assert ask(question, "club_name") == ask(question, "club_name") == "Test Club"
    assert asked == ["club_name"]
    set_setting(filled_store, "club_name", "Other Club", "test")
    assert ask(question, "club_name") == "Other Club"


def test_two_stores_do_not_share_answers(
    shown_store: Store, monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory
) -> None:
    assert len(ask(list_athletes)) == 5
    other = Store(tmp_path_factory.mktemp("other") / "other.duckdb")
    other.create()
    monkeypatch.setenv("WARMCURVE_DB", str(other.path))
    assert len(ask(list_athletes)) == 0


def test_the_squad_is_sorted_with_a_small_curve_each(shown_store: Store) -> None:
    rows = squad(shown_store, "jump_height")
    assert rows["athlete"].tolist() == ["A1", "A3", "A5", "A4", "A2"]
    assert rows["small_curve"].map(len).nunique() == 1


def test_efforts_are_placed_against_their_day_s_peak(shown_store: Store) -> None:
    measure = get_measure(shown_store, "jump_height")
    placed = placed_efforts(shown_store, measure, "A1")
    assert len(placed) == 60
    assert placed["share_pct"].max() == pytest.approx(100)
    first = placed.iloc[0]
    best = placed.loc[placed["started_at"] == first["started_at"], "value"].max()
    assert first["share_pct"] == pytest.approx(100 * first["value"] / best)


def test_shorter_times_stand_higher(shown_store: Store) -> None:
    measure = replace(get_measure(shown_store, "jump_height"), better="lower")
    higher = placed_efforts(shown_store, replace(measure, better="higher"), "A1")["share_pct"]
    assert placed_efforts(shown_store, measure, "A1")["share_pct"].to_numpy() == pytest.approx(
        10_000 / higher.to_numpy()
    )
