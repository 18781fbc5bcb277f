"""Starting the dashboard in this process: one port, one address, one store."""

from __future__ import annotations

import atexit
import os
import sys
import threading
import time
import webbrowser
from collections.abc import Callable, Sequence
from contextlib import ExitStack, suppress
from importlib import import_module
from importlib.metadata import version
from typing import TYPE_CHECKING
from urllib.error import HTTPError, URLError
from urllib.request import urlopen

from dashboard.app.beside import Beside
from dashboard.app.starting import Starting
from dashboard.core.events import log_event, log_writes
from dashboard.serving.base_path import UnderBasePath
from dashboard.serving.library_log import log_libraries
from dashboard.serving.listening import ON_THIS_MACHINE, CannotServe, Where, listen
from dashboard.serving.watch import NO_WATCH, Watch, watchers_of
from dashboard.serving.watching import Watched
from db.file.store import Store
from db.file.waits import Tell

if TYPE_CHECKING:
    from starlette.types import ASGIApp
    from streamlit.starlette import App
    from uvicorn import Config, Server

    from dashboard.serving.metrics import Gauges
    from dashboard.sign_in.club_provider import Provider

START_SECONDS, END_SECONDS = 60.0, 10.0
LOADING = "loading pages"
BESIDE = (LOADING, "retention", "scheduled backups", "curves by themselves", "inbox")
"""Names of the threads that run beside the server."""
NOTHING_BESIDE = Beside()
OPEN_TO_OTHERS = (
    "Other machines can reach this address. Without TLS anyone on the network can read along, "
    "passwords included: put a proxy with TLS in front. Only hosts named with --host or "
    "--allow-host get an answer."
)


def serve(
    store: Store,
    where: Where = ON_THIS_MACHINE,
    open_browser: bool = True,
    say: Tell = print,
    provider: Provider | None = None,
    make: Callable[[Tell], None] | None = None,
    beside: Beside = NOTHING_BESIDE,
    watch: Watch = NO_WATCH,
) -> None:
    """Serve the store until the process is told to stop.

    The server answers at once. Until the store and the pages are ready, it says what it is doing.

    Parameters
    ----------
    store : Store
        The store; it is made if there is none.
    where : Where
        Where to listen, by default on this machine only.
    open_browser : bool
        Whether to open the page in a browser once it answers.
    say : callable
        Takes each sentence for the person at the terminal.
    provider : Provider or None
        Where the club's own sign-in is, if people may sign in with it.
    make : callable or None
        Makes the store if there is none; it is given what takes each sentence about its progress.
    beside : Beside
        What runs by itself beside the pages.
    watch : Watch
        What the people who look after the server are told about it.

    Raises
    ------
    CannotServe
        If the port is taken, or this machine has no such address.
    StoreError
        If the store cannot be made or opened, or the inbox cannot be used.
    """
    beside.prepare()
    with listen(where) as listener, ExitStack() as at_the_end:
        _, port = listener.getsockname()
        address = f"http://{where.reached_at}:{port}{where.base_path}"
        os.environ["WARMCURVE_DB"] = str(store.path)
        os.environ["WARMCURVE_UNDER"] = where.base_path
        began = time.monotonic()
        log_libraries()
        log_event("start", version=version("warmcurve"), port=port)
        watchers = watchers_of(watch, gauges_of(store), at_the_end)
        if where.open_to_others:
            say(OPEN_TO_OTHERS)

        def get_ready(tell: Tell) -> App:
            if make is not None:
                make(tell)
            tell("Loading the pages.")
            application = _application(store, say, provider, at_the_end)
            beside.begin(store, say, at_the_end)
            _configure(server.config, port, where.hosts)
            log_event("ready", seconds=round(time.monotonic() - began, 1))
            return application

        def stop() -> None:
            server.should_exit = True

        starting = Starting(get_ready, stop)
        inside = UnderBasePath(starting, where.base_path) if where.base_path else starting
        server = server_of(Watched(inside, watchers) if watchers else inside)
        threading.Thread(
            target=_tell_when_up, args=(address, open_browser, say), daemon=True
        ).start()
        try:
            server.run(sockets=[listener])
        except KeyboardInterrupt:
            pass  # how the server ends, unless this process was told to ignore Ctrl-C
    if starting.at_work or not _has_ended_beside():
        # On exit, Python would kill the thread inside the store's code, which aborts the process.
        atexit.register(os._exit, 0)
    if starting.problem is not None:
        raise starting.problem
    if not server.started:
        raise CannotServe(f"The dashboard did not start at {address}. The lines above say why.")
    log_event("stop")
    say("Stopped.")


def gauges_of(store: Store) -> Gauges:
    """Return what to read from the store and the fits each time the metrics are asked for."""
    from dashboard.club.scheduled_backups import backup_age_seconds
    from dashboard.fits.background_fits import fits_under_way

    return {
        "fits_under_way": ("Fits that go on now.", lambda: float(len(fits_under_way()))),
        "store_bytes": ("Size of the store's file.", lambda: float(store.path.stat().st_size)),
        "backup_age_seconds": (
            "Since the newest scheduled backup; not a number where none is scheduled or made.",
            lambda: backup_age_seconds(store),
        ),
    }


def _has_ended_beside() -> bool:
    """Wait for the threads beside the server to end, and tell whether they did in time."""
    beside = [thread for thread in threading.enumerate() if thread.name in BESIDE]
    with suppress(KeyboardInterrupt):  # somebody does not want to wait
        for thread in beside:
            thread.join(END_SECONDS)
    return not any(thread.is_alive() for thread in beside)


def _application(store: Store, say: Tell, provider: Provider | None, at_the_end: ExitStack) -> App:
    """Open the store, load the pages, and start the threads that run beside them."""
    from dashboard.app.main import app
    from dashboard.club.daily_retention import start_daily_retention
    from dashboard.club.known_copies import clear_leftovers
    from dashboard.club.scheduled_backups import start_scheduled_backups
    from dashboard.sign_in.club_provider import use_provider
    from dashboard.sign_in.set_up import set_up_code
    from db.people.accounts import any_people

    store.create()
    store.hold()
    log_writes(store)
    clear_leftovers(store, say)
    if not any_people(store):
        say(
            "Nobody has an account yet. Open the page and make the first one with this "
            f"set-up code: {set_up_code()}"
        )
    use_provider(provider)
    for begun in (start_daily_retention(store, say), start_scheduled_backups(store, say)):
        at_the_end.callback(begun.set)
    threading.Thread(target=_load_pages, name=LOADING, daemon=True).start()
    return app


def _configure(server: Config, port: int, allowed_hosts: Sequence[str]) -> None:
    """Configure the server and Streamlit for each other, once the application is loaded.

    This comes after loading, because loading points Streamlit at the configuration beside it and
    turns up the server's log.
    """
    from streamlit import config

    hosts = [*config.get_option("server.allowedHosts"), *allowed_hosts]
    config.set_option("server.allowedHosts", hosts)
    config.set_option("server.port", port)
    server.ws_max_size = config.get_option("server.maxMessageSize") * 1_000_000
    server.configure_logging()
    log_libraries()


def server_of(application: ASGIApp) -> Server:
    """Return the server of an application, which logs only what goes wrong."""
    import uvicorn

    return uvicorn.Server(
        uvicorn.Config(
            application,
            # Configuring logging from a file or a dict first closes every handler in the process,
            # even one that another thread is just making.
            log_config=None,
            log_level="warning",
            access_log=False,
            ws="websockets-sansio",
            timeout_graceful_shutdown=2,
            server_header=False,
        )
    )


def _tell_when_up(address: str, open_browser: bool, say: Tell) -> None:
    """Say the address once the server answers there, and open it."""
    if not wait_until_up(address):
        return
    say(f"The dashboard is at {address} - stop it with Ctrl-C.")
    if open_browser and _has_a_screen():
        webbrowser.open(address)


def _load_pages() -> None:
    """Load what pages need while the first visitor looks at the sign-in page."""
    for name in ("curve.panel", "today.training_plan", "today.game_screen"):
        import_module(f"dashboard.{name}")


def _has_a_screen() -> bool:
    """Tell whether a browser would open a window; without one it may take over the terminal."""
    on_linux = sys.platform.startswith("linux")
    return not on_linux or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def wait_until_up(address: str, seconds: float = START_SECONDS) -> bool:
    """Wait until the server answers at the address; tell whether it does."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        try:
            with urlopen(f"{address}/healthz", timeout=5) as answer:
                return bool(answer.status == 200)
        except HTTPError:
            return True  # it answers, and says what it waits for
        except (URLError, ConnectionError, TimeoutError):
            time.sleep(0.05)
    return False
