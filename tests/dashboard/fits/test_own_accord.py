"""Fits that start by themselves: when, when not, and what people are told."""

from __future__ import annotations

import math
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import ModuleType

import pandas as pd
import pytest

from dashboard.fits import background_fits, own_accord
from dashboard.fits.background_fits import FitStage, fit_stage
from dashboard.fits.due_fits import due_fits
from dashboard.fits.fit_news import ChangedCall, fit_news
from dashboard.fits.own_accord import OwnAccord, curves_come_by_themselves, start_own_accord
from db.efforts.typed_sessions import EffortEntry, SessionEntry, add_session
from db.file.settings import set_setting
from db.file.store import Store
from db.fits.results import latest_fit
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.roster.athletes import save_athletes
from db.roster.measures import get_measure, save_measure
from tests.dashboard.artificial import ATHLETES
from tests.dashboard.conftest import ROUTER, SignIn, keep_artificial_fit, told
from tests.dashboard.live_server import serving
from tests.patience import PATIENCE_SECONDS

NOT_STOPPED = threading.Event()


class Fits:
    """Stands in for the process that fits: notes what it should fit, then saves it or fails."""

    def __init__(self) -> None:
        self.asked: list[list[str]] = []
        self.problem = ""
        self.bring: Callable[[], object] = lambda: None

    def __call__(self, *_: object, stands_back: bool) -> Fits:
        assert stands_back, "Pages go first."
        return self

    def __enter__(self) -> Fits:
        return self

    def __exit__(self, *_: object) -> None:
        for code in self.asked[-1]:
            background_fits._stages.pop(code, None)

    at_work = False

    def fit(self, _store: Path, codes: list[str], _person: str) -> None:
        self.asked.append(codes)
        if self.problem:
            stages = [FitStage(code, problem=self.problem) for code in codes]
            background_fits.keep_problems(stages)
        else:
            self.bring()


@pytest.fixture
def fits(monkeypatch: pytest.MonkeyPatch) -> Iterator[Fits]:
    standing_in = Fits()
    monkeypatch.setattr(own_accord, "FittingProcess", standing_in)
    yield standing_in
    background_fits.forget_problems()


def add_efforts(store: Store) -> None:
    efforts = EffortEntry(1, 44.0, 10.0), EffortEntry(2, 45.0, 11.0)
    add_session(store, SessionEntry("A1", "jump_height", datetime(2026, 3, 20, 9), efforts), "test")


@pytest.mark.usefixtures("closed_in_between")
def test_a_fit_starts_by_itself_and_then_no_other(
    unfitted_store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = ModuleType("__main__")
    page.__file__ = str(ROUTER)
    monkeypatch.setitem(sys.modules, "__main__", page)  # as in a server that has shown a page
    said: list[str] = []
    accord = OwnAccord(unfitted_store, said.append, 0.0)
    accord.look(NOT_STOPPED)
    fit = latest_fit(unfitted_store, "jump_height")
    assert fit is not None and said == ["Jump height is fitted."]
    assert due_fits(unfitted_store) == {}
    accord.look(NOT_STOPPED)
    assert said == ["Jump height is fitted."]


def test_new_efforts_start_one_fit(filled_store: Store, fits: Fits) -> None:
    accord = OwnAccord(filled_store, print, 0.0)
    fits.bring = lambda: keep_artificial_fit(filled_store)
    accord.look(NOT_STOPPED)
    assert fits.asked == []
    add_efforts(filled_store)
    accord.look(NOT_STOPPED)
    accord.look(NOT_STOPPED)
    assert fits.asked == [["jump_height"]]


def test_a_new_athlete_or_new_numbers_from_other_clubs_start_a_fit(
    filled_store: Store, fits: Fits
) -> None:
    accord = OwnAccord(filled_store, print, 0.0)
    fits.bring = lambda: keep_artificial_fit(filled_store)
    save_athletes(filled_store, pd.DataFrame({"athlete": ["N1"], "name": ["New One"]}), "test")
    accord.look(NOT_STOPPED)
    assert fits.asked == [["jump_height"]]
    accord.look(NOT_STOPPED)
    assert len(fits.asked) == 1, "That fit does not know of the new one, and nor would another."
    set_setting(filled_store, "squad_prior jump_height", '{"clubs": 7}', "test")
    accord.look(NOT_STOPPED)
    assert len(fits.asked) == 2


def test_a_fit_waits_until_nothing_more_comes(unfitted_store: Store, fits: Fits) -> None:
    OwnAccord(unfitted_store, print, math.inf).look(NOT_STOPPED)
    assert fits.asked == []


def test_no_fit_begins_while_another_goes_on(
    unfitted_store: Store, fits: Fits, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(background_fits._stages, "throw_speed", FitStage("throw_speed"))
    OwnAccord(unfitted_store, print, 0.0).look(NOT_STOPPED)
    assert fits.asked == []


@pytest.mark.parametrize(("begun", "waits"), [(timedelta(), True), (timedelta(hours=4), False)])
def test_a_running_test_has_the_machine_to_itself(
    unfitted_store: Store,
    fits: Fits,
    monkeypatch: pytest.MonkeyPatch,
    begun: timedelta,
    waits: bool,
) -> None:
    running = pd.DataFrame({"begun_at": [datetime.now(UTC) - begun]})
    monkeypatch.setattr(own_accord, "open_tests", lambda _: running)
    OwnAccord(unfitted_store, print, 0.0).look(NOT_STOPPED)
    assert bool(fits.asked) is not waits


def test_a_failed_fit_is_reported_and_tried_again_on_new_data_or_the_next_night(
    unfitted_store: Store, fits: Fits, monkeypatch: pytest.MonkeyPatch
) -> None:
    fits.problem = "It did not work."
    accord = OwnAccord(unfitted_store, print, 0.0)
    accord.look(NOT_STOPPED)
    stage = fit_stage("jump_height")
    assert stage is not None and stage.problem == "It did not work."
    accord.look(NOT_STOPPED)
    assert len(fits.asked) == 1
    add_efforts(unfitted_store)
    accord.look(NOT_STOPPED)
    assert len(fits.asked) == 2
    accord.look(NOT_STOPPED)
    monkeypatch.setattr(own_accord, "_night", lambda _: "another")
    accord.look(NOT_STOPPED)
    assert len(fits.asked) == 3


def test_a_fit_that_does_not_help_is_not_repeated(filled_store: Store, fits: Fits) -> None:
    measure = get_measure(filled_store, "jump_height")
    save_measure(filled_store, replace(measure, standard_volume=12), "test")
    accord = OwnAccord(filled_store, print, 0.0)
    fits.bring = lambda: keep_artificial_fit(filled_store)
    for _ in range(3):
        accord.look(NOT_STOPPED)
    assert len(fits.asked) == 1


def test_too_few_efforts_start_no_fit_and_the_page_says_what_is_missing(
    empty_store: Store, sign_in: SignIn, fits: Fits
) -> None:
    few = (
        b"athlete,started_at,measure,effort,value,kind\n"
        b"A1,2026-03-01T10:00,jump_height,1,44,fade\nA1,2026-03-01T10:00,jump_height,2,45,fade\n"
    )
    import_efforts(empty_store, read_table(few, "few.csv"), "test", add_athletes=True)
    OwnAccord(empty_store, print, 0.0).look(NOT_STOPPED)
    assert fits.asked == []
    application = sign_in(empty_store, "dora", "athlete")
    assert "Jump height has 2 usable efforts at 2 volumes. A fit needs" in told(application)
    assert not [each for each in application.button if each.key == "update_curves"]


def test_a_problem_is_reported_once(unfitted_store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[str] = []

    def broken(_store: Store) -> None:
        raise OSError(28, "No space left on device", "store.duckdb")

    monkeypatch.setattr(own_accord, "due_fits", broken)
    accord = OwnAccord(unfitted_store, said.append, 0.0)
    for _ in range(2):
        accord.look(NOT_STOPPED)
    assert len(said) == 1 and said[0].startswith("The curves could not be brought up to date.")


def test_fits_by_themselves_end_with_the_server(unfitted_store: Store, fits: Fits) -> None:
    stop = start_own_accord(unfitted_store, print, math.inf)
    assert curves_come_by_themselves()
    stop.set()
    for thread in threading.enumerate():
        if thread.name == own_accord.NAME:
            thread.join(PATIENCE_SECONDS)
    assert not curves_come_by_themselves()


def test_the_server_brings_curves_up_to_date(unfitted_store: Store) -> None:
    exported = "/download/export/responses.csv?measure=jump_height"
    with (
        serving(unfitted_store.path, WARMCURVE_FIT_AFTER="0") as server,
        server.signed_in("dora") as client,
    ):
        server.until(lambda: client.get(exported).text.count("\n") > 1)
    assert latest_fit(unfitted_store, "jump_height") is not None


def test_the_news_lists_the_calls_that_changed(filled_store: Store) -> None:
    first = fit_news(filled_store, "jump_height")
    assert first is not None and first.first
    name, position, _, best, sessions = ATHLETES["A1"]
    keep_artificial_fit(
        filled_store, {**ATHLETES, "A1": (name, position, "either", best, sessions)}
    )
    news = fit_news(filled_store, "jump_height")
    assert news is not None and not news.first
    assert news.calls == (ChangedCall("Long One", "long", "either"),)
