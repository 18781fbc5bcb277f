"""Starting the dashboard in this process: one port, one address, one store."""

from __future__ import annotations

import os
import socket
import sys
import threading
import time
import webbrowser
from collections.abc import Callable, Sequence
from importlib import import_module
from typing import TYPE_CHECKING
from urllib.error import HTTPError, URLError
from urllib.request import urlopen

from dashboard.club_provider import Provider, use_provider
from dashboard.daily_retention import start_daily_retention
from dashboard.scheduled_backups import start_scheduled_backups
from dashboard.set_up import set_up_code
from db.errors import StoreError
from db.people import any_people
from db.store import Store

if TYPE_CHECKING:
    import uvicorn

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
    say: Callable[[str], None] = print,
    provider: Provider | None = None,
) -> None:
    """Serve the store until the process is told to stop.

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

    Raises
    ------
    CannotServe
        If the port is taken.
    """
    store.create()
    store.hold()
    use_provider(provider)
    with listen(port) as listener:
        _, chosen_port = listener.getsockname()
        address = f"http://{ADDRESS}:{chosen_port}"
        os.environ["WARMCURVE_DB"] = str(store.path)
        server = _server(chosen_port, allowed_hosts)
        if not any_people(store):
            say(
                "Nobody has an account yet. Open the page and make the first one with this "
                f"set-up code: {set_up_code()}"
            )
        threading.Thread(
            target=_tell_when_up, args=(address, open_browser, say), daemon=True
        ).start()
        stop_retention = start_daily_retention(store, say)
        stop_backups = start_scheduled_backups(store, say)
        try:
            server.run(sockets=[listener])
        except KeyboardInterrupt:
            pass  # how the server ends where nobody has told this process to ignore it
        finally:
            stop_retention.set()
            stop_backups.set()
    if not server.started:
        raise CannotServe(f"The dashboard did not start at {address}. The lines above say why.")
    say("Stopped.")


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


def _server(port: int, allowed_hosts: Sequence[str]) -> uvicorn.Server:
    """Return the web server with the application loaded.

    The application comes first: it points Streamlit at the configuration beside it.
    """
    import uvicorn
    from streamlit import config

    from dashboard.main import app

    hosts = [*config.get_option("server.allowedHosts"), *allowed_hosts]
    config.set_option("server.allowedHosts", hosts)
    config.set_option("server.port", port)
    return uvicorn.Server(
        uvicorn.Config(
            app,
            log_level="warning",
            access_log=False,
            ws="websockets-sansio",
            ws_max_size=config.get_option("server.maxMessageSize") * 1_000_000,
            timeout_graceful_shutdown=2,
            server_header=False,
        )
    )


def _tell_when_up(address: str, open_browser: bool, say: Callable[[str], None]) -> None:
    """Say the address once the dashboard answers there, and open it."""
    if not wait_until_up(address):
        return
    say(f"The dashboard is at {address} - stop it with Ctrl-C.")
    if open_browser and _has_a_screen():
        webbrowser.open(address)
    _load_pages()


def _load_pages() -> None:
    """Load what pages need while the first visitor looks at the sign-in page."""
    for name in ("page_parts", "tables", "day_words", "plan_sheet", "game_screen", "game_start"):
        import_module(f"dashboard.{name}")


def _has_a_screen() -> bool:
    """Tell whether a browser would get a window; elsewhere one may take over the terminal."""
    on_linux = sys.platform.startswith("linux")
    return not on_linux or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def wait_until_up(address: str, seconds: float = START_SECONDS) -> bool:
    """Wait until the dashboard answers at the address; tell whether it does."""
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
