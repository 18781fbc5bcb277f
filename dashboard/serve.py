"""Starting the dashboard in this process: one port, one address, one store."""

from __future__ import annotations

import atexit
import os
import socket
import sys
import threading
import time
import webbrowser
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from importlib import import_module
from typing import TYPE_CHECKING
from urllib.error import HTTPError, URLError
from urllib.request import urlopen

from dashboard.starting import Starting
from db.errors import StoreError
from db.store import Store
from db.waits import Tell

if TYPE_CHECKING:
    from streamlit.starlette import App
    from uvicorn import Config, Server

    from dashboard.club_provider import Provider

ADDRESS = "127.0.0.1"
FIRST_PORT = 8501
PORTS_TRIED = 20
START_SECONDS = 60.0


class CannotServe(StoreError):
    """The dashboard cannot be started; the message says why."""

    title = "The dashboard cannot be started"


def serve(
    store: Store,
    port: int | None = None,
    open_browser: bool = True,
    allowed_hosts: Sequence[str] = (),
    say: Tell = print,
    provider: Provider | None = None,
    make: Callable[[Tell], None] | None = None,
) -> None:
    """Serve the store until the process is told to stop.

    The server answers before the store is there and the pages are loaded: with what it does.

    Parameters
    ----------
    store : Store
        The store; it is made if there is none.
    port : int or None
        The port to listen on, by default the first free one from 8501.
    open_browser : bool
        Whether to open the page in a browser once it answers.
    allowed_hosts : sequence of str
        Host names beside this machine's own under which a proxy passes requests on.
    say : callable
        Takes each sentence for the person at the terminal.
    provider : Provider or None
        Where the club's own sign-in is, if people may sign in with it.
    make : callable or None
        Makes the store if there is none, given what takes each sentence about what it does.

    Raises
    ------
    CannotServe
        If the port is taken.
    StoreError
        If the store cannot be made or opened.
    """
    with listen(port) as listener, ExitStack() as at_the_end:
        _, chosen_port = listener.getsockname()
        address = f"http://{ADDRESS}:{chosen_port}"
        os.environ["WARMCURVE_DB"] = str(store.path)

        def get_ready(tell: Tell) -> App:
            if make is not None:
                make(tell)
            tell("Loading the pages.")
            application = _application(store, say, provider, at_the_end)
            _configure(server.config, chosen_port, allowed_hosts)
            return application

        def stop() -> None:
            server.should_exit = True

        starting = Starting(get_ready, stop)
        server = _server(starting)
        threading.Thread(
            target=_tell_when_up, args=(address, open_browser, say), daemon=True
        ).start()
        try:
            server.run(sockets=[listener])
        except KeyboardInterrupt:
            pass  # how the server ends where nobody has told this process to ignore it
    if starting.at_work:
        # Python would tear the thread out of the store's code, which aborts the process.
        atexit.register(os._exit, 0)
    if starting.problem is not None:
        raise starting.problem
    if not server.started:
        raise CannotServe(f"The dashboard did not start at {address}. The lines above say why.")
    say("Stopped.")


def _application(store: Store, say: Tell, provider: Provider | None, at_the_end: ExitStack) -> App:
    """Open the store, load the pages, and begin what goes on beside them until the end."""
    from dashboard.club_provider import use_provider
    from dashboard.daily_retention import start_daily_retention
    from dashboard.main import app
    from dashboard.scheduled_backups import start_scheduled_backups
    from dashboard.set_up import set_up_code
    from db.people import any_people

    store.create()
    store.hold()
    if not any_people(store):
        say(
            "Nobody has an account yet. Open the page and make the first one with this "
            f"set-up code: {set_up_code()}"
        )
    use_provider(provider)
    for begun in (start_daily_retention(store, say), start_scheduled_backups(store, say)):
        at_the_end.callback(begun.set)
    threading.Thread(target=_load_pages, daemon=True).start()
    return app


def listen(port: int | None) -> socket.socket:
    """Return a socket that listens on the port, or on the first free one from 8501."""
    ports = range(FIRST_PORT, FIRST_PORT + PORTS_TRIED) if port is None else [port]
    for candidate in ports:
        try:
            listener = socket.create_server((ADDRESS, candidate))
        except OSError:
            continue
        # asyncio sets this only on sockets that name their protocol; without it each small
        # answer waits 40 ms for the client's acknowledgement.
        listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        return listener
    wanted = f"ports {ports[0]} to {ports[-1]} are" if port is None else f"port {port} is"
    raise CannotServe(
        f"The {wanted} not free on this machine. Stop what runs there, or name another port "
        "with --port."
    )


def _configure(server: Config, port: int, allowed_hosts: Sequence[str]) -> None:
    """Let the server and Streamlit know of each other, once the application is loaded.

    Loading it points Streamlit at the configuration beside it, and makes the server's log speak.
    """
    from streamlit import config

    hosts = [*config.get_option("server.allowedHosts"), *allowed_hosts]
    config.set_option("server.allowedHosts", hosts)
    config.set_option("server.port", port)
    server.ws_max_size = config.get_option("server.maxMessageSize") * 1_000_000
    server.configure_logging()


def _server(starting: Starting) -> Server:
    import uvicorn

    return uvicorn.Server(
        uvicorn.Config(
            starting,
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
    for name in ("page_parts", "tables", "day_words", "plan_sheet", "game_screen", "game_start"):
        import_module(f"dashboard.{name}")


def _has_a_screen() -> bool:
    """Tell whether a browser would get a window; elsewhere one may take over the terminal."""
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
