"""Stores, signed-in applications and a real server for the tests of the dashboard."""

from __future__ import annotations

import fcntl
import math
import os
import secrets
import shutil
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
import typer.testing
from streamlit import config
from streamlit.components.v2 import manifest_scanner
from streamlit.runtime.scriptrunner.script_cache import ScriptCache
from streamlit.testing.v1 import AppTest, app_test, local_script_runner
from streamlit.testing.v1.local_script_runner import LocalScriptRunner
from streamlit.util import calc_hash

import dashboard
from dashboard.app.demo import after_curves, demo_store
from dashboard.fits.fitting import fit_all
from dashboard.sign_in.accounts import hash_password
from db.efforts.rows import observations
from db.file import connection
from db.file.settings import set_setting
from db.file.store import Store
from db.fits.kept_fits import keep_fit
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.people.accounts import Person, add_person, open_web_session
from db.roster.athletes import save_athletes
from db.roster.measures import get_measure, save_measure
from tests.dashboard import artificial
from tests.dashboard.artificial import Athletes
from tests.dashboard.shown_tables import Tables, watched
from tests.forked import restore_main
from tests.patience import PATIENCE_SECONDS

ROUTER = Path(dashboard.__file__).parent / "router.py"
PASSWORD = "plain words for a test"
PEOPLE = (
    Person("dora", "Dora Director", "director"),
    Person("carl", "Carl Coach", "coach", sees_all=True),
)
ATHLETE_PEOPLE = (
    Person("long.one", "Long One", "athlete", "A1"),
    Person("untested", "Untested Five", "athlete", "A5"),
)

SETTINGS = {"browser.gatherUsageStats": False, "runner.magicEnabled": False}
"""Streamlit settings of the served dashboard, which a page run by a test would not have."""

SignIn = Callable[..., AppTest]
SIGNED_IN: dict[tuple[Path, str], str] = {}
"""Web sessions by store and person, for stores that no test changes."""


@pytest.fixture(scope="session", autouse=True)
def _what_every_page_would_do_again_is_done_once() -> Iterator[None]:
    """Do once what Streamlit and Typer would repeat for every page and command that a test runs.

    For each page, Streamlit would look through all installed packages, compile the script again,
    look for values to show in it, note what it calls, and ask a thousand times a second whether the
    page has run. For each command, Typer would build all commands again.
    """
    scripts, ask = ScriptCache(), local_script_runner.require_widgets_deltas

    def wait(runner: LocalScriptRunner, timeout: float = PATIENCE_SECONDS) -> None:
        assert runner._script_thread is not None
        runner._script_thread.join(timeout)
        ask(runner, timeout if runner.script_stopped() else 0.0)

    with pytest.MonkeyPatch.context() as patch:
        scan = cache(manifest_scanner.scan_component_manifests)
        patch.setattr(manifest_scanner, "scan_component_manifests", scan)
        patch.setattr(local_script_runner, "ScriptCache", lambda: scripts)
        patch.setattr(app_test, "ScriptCache", lambda: scripts)
        patch.setattr(typer.testing, "_get_command", cache(typer.main.get_command))
        patch.setattr(local_script_runner, "require_widgets_deltas", wait)
        for option, said in SETTINGS.items():
            config.set_option(option, said)
        yield


@pytest.fixture(scope="session")
def _tables() -> Iterator[Tables]:
    with watched() as tables:
        yield tables


@pytest.fixture(autouse=True)
def shown(_tables: Tables) -> Iterator[Tables]:
    """The tables that a test opens; each of them must be readable."""
    _tables.forget()
    yield _tables
    assert _tables.faults == []


@pytest.fixture(autouse=True)
def _own_store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("WARMCURVE_DB", str(tmp_path / "store.duckdb"))
    yield
    restore_main()


@pytest.fixture(scope="session")
def made_stores(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Stores that tests get copies of."""
    names = ("empty", "unfitted", "filled")

    def make(folder: Path) -> None:
        for name in names:
            store = new_store(folder / f"{name}.duckdb")
            if name != "empty":
                fill(store, fitted=name == "filled")

    folder = once_for_all(tmp_path_factory, "made", make)
    return {name: folder / f"{name}.duckdb" for name in names}


@pytest.fixture(scope="session")
def demo_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's store with its fits."""

    def make(folder: Path) -> None:
        store = demo_store(folder / "demo.duckdb", lambda sentence: None)
        with store.kept_open():
            for outcome in fit_all(store, "demo"):
                assert outcome.fit is not None
                after_curves(store, outcome.measure.code)

    return once_for_all(tmp_path_factory, "demo", make) / "demo.duckdb"


def once_for_all(folders: pytest.TempPathFactory, name: str, make: Callable[[Path], None]) -> Path:
    """Return a folder that is filled once for all processes of a test run."""
    own = folders.getbasetemp()
    folder = own.parent if "PYTEST_XDIST_WORKER" in os.environ else own
    made, unfinished = folder / name, own / f"{name}-unfinished"
    with (folder / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not made.exists():
            unfinished.mkdir()
            make(unfinished)
            unfinished.rename(made)
    return made


@pytest.fixture
def closed_in_between() -> None:
    """Close the store's file between units of work, because other processes need it."""


@pytest.fixture
def own_copy(
    made_stores: dict[str, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    request: pytest.FixtureRequest,
) -> Iterator[Callable[[str], Store]]:
    """Copy a made store for one test and keep its file open: opening it is slow."""
    with ExitStack() as open_stores:

        def own_copy(name: str) -> Store:
            store = copied(made_stores[name], tmp_path)
            if "closed_in_between" not in request.fixturenames:
                monkeypatch.setattr(connection, "LONGEST_STREAK_SECONDS", math.inf)
                open_stores.enter_context(store.kept_open())
            return store

        yield own_copy


@pytest.fixture
def empty_store(own_copy: Callable[[str], Store]) -> Store:
    """A store with accounts for a director and a coach, and nothing else."""
    return own_copy("empty")


@pytest.fixture
def filled_store(own_copy: Callable[[str], Store]) -> Store:
    """The five artificial athletes with their efforts, accounts and a kept fit."""
    return own_copy("filled")


@pytest.fixture
def unfitted_store(own_copy: Callable[[str], Store]) -> Store:
    """The five artificial athletes with their efforts, before the first fit."""
    return own_copy("unfitted")


@pytest.fixture(scope="session")
def _shown_store(
    made_stores: dict[str, Path], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Store]:
    """Open a copy of the filled store for all tests that only look, with everybody signed in."""
    store = copied(made_stores["filled"], tmp_path_factory.mktemp("shown"))
    with only_looked_at(store, [person.person for person in (*PEOPLE, *ATHLETE_PEOPLE)]):
        yield store


@contextmanager
def only_looked_at(store: Store, names: Iterable[str]) -> Iterator[None]:
    """Keep a store open with some people signed in, for tests that do not change it."""
    with store.kept_open():
        for name in names:
            SIGNED_IN[store.path, name] = new_session(store, name)
        yield


@pytest.fixture
def shown_store(_shown_store: Store, monkeypatch: pytest.MonkeyPatch) -> Iterator[Store]:
    """Like `filled_store`, for tests that only look: answers stay remembered between tests."""
    monkeypatch.setenv("WARMCURVE_DB", str(_shown_store.path))
    before = _shown_store.revision()
    yield _shown_store
    assert _shown_store.revision() == before, "A test that writes needs a store of its own."


def copied(made: Path, folder: Path) -> Store:
    """Copy a store that nobody has open, with its write-ahead log."""
    for path in made.parent.glob(f"{made.name}*"):
        shutil.copy(path, folder / path.name.replace(made.stem, "store"))
    return Store(folder / "store.duckdb")


def new_store(path: Path) -> Store:
    path.touch(mode=0o600)
    path.write_bytes(_new_store())
    return Store(path)


@cache
def _new_store() -> bytes:
    with TemporaryDirectory() as folder:
        store = Store(Path(folder) / "store.duckdb")
        store.create()
        with store.kept_open():
            for person in PEOPLE:
                add_person(store, person, HASH, by="test")
        return store.path.read_bytes()


HASH = hash_password(PASSWORD)


def fill(store: Store, fitted: bool = True, athletes: Athletes = artificial.ATHLETES) -> None:
    with store.kept_open():
        save_athletes(store, artificial.athlete_rows(athletes), "test")
        measure = get_measure(store, "jump_height")
        save_measure(store, replace(measure, standard_volume=artificial.STANDARD), "test")
        import_efforts(store, read_table(artificial.efforts_csv(athletes), "efforts.csv"), "test")
        for person in ATHLETE_PEOPLE:
            add_person(store, person, HASH, by="test")
        set_setting(store, "club_name", "Test Club", "test")
        if fitted:
            keep_artificial_fit(store, athletes)


def add_routine_sessions(store: Store) -> None:
    """Import sessions that can be compared with each other."""
    import_efforts(store, read_table(artificial.routine_csv(), "routine.csv"), "test")


def keep_artificial_fit(
    store: Store, athletes: Athletes = artificial.ATHLETES, checked: bool = True
) -> int:
    tested = observations(store, "jump_height")
    peaks = tested.groupby("session_id", as_index=False)["value"].max()
    return keep_fit(
        store,
        "test",
        "jump_height",
        artificial.fit_facts(store.revision()),
        artificial.responses(athletes),
        artificial.kept_curves(athletes),
        peaks.rename(columns={"value": "peak_value"}),
        artificial.conclusions(athletes, tested) if checked else None,
        advice=artificial.advice_rows(athletes) if checked else None,
        worth=artificial.worth() if checked else None,
    )


@pytest.fixture
def sign_in(monkeypatch: pytest.MonkeyPatch) -> Iterator[SignIn]:
    """Open the application as a person: `sign_in(store, "dora")`, on a page if named.

    The store's file then stays open, because opening it takes longer than most pages do.
    """
    monkeypatch.setattr(connection, "LONGEST_STREAK_SECONDS", math.inf)
    with ExitStack() as open_stores:

        def sign_in(store: Store, name: str, page: str | None = None) -> AppTest:
            open_stores.enter_context(store.kept_open())
            return signed_in_application(store, name, page)

        yield sign_in


def signed_in_application(store: Store, name: str, page: str | None = None) -> AppTest:
    """Open somebody's first page, or the named page as if by its address."""
    application = AppTest.from_file(ROUTER, default_timeout=PATIENCE_SECONDS)
    application.user = {"person": name, "sid": open_session(store, name)}
    if page is not None:
        application._page_hash = calc_hash(page.replace("_", "-"))
    application.run()
    assert not application.exception
    if page is not None:
        assert application._finished_page_script_hash == application._page_hash, page
    return application


def open_session(store: Store, name: str) -> str:
    """Sign somebody in, or reuse their session in a store that many tests share."""
    return SIGNED_IN.get((store.path, name)) or new_session(store, name)


def new_session(store: Store, name: str) -> str:
    sid = secrets.token_hex(32)
    open_web_session(store, name, sid, datetime.now(UTC) + timedelta(days=1))
    return sid


def told(application: AppTest) -> str:
    """Everything that the page says, as one text."""
    kinds = (
        "title",
        "header",
        "subheader",
        "markdown",
        "caption",
        "info",
        "success",
        "error",
        "html",
    )
    return "\n".join(
        str(element.value) for kind in kinds for element in application.get(kind)
    ).replace("\u00a0", " ")
