"""Runs `warmcurve serve` in its own process and talks to it as a browser does."""

from __future__ import annotations

import os
import re
import signal
import socket
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing.process import BaseProcess
from pathlib import Path

import httpx2 as httpx
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect
from websockets.typing import Subprotocol

from tests import forked
from tests.dashboard.conftest import PASSWORD
from tests.patience import PATIENCE_SECONDS

WARMCURVE = [sys.executable, "-c", "from dashboard.app.command_line import main; main()"]

LOOK_SECONDS = 0.05


@dataclass(frozen=True)
class LiveServer:
    address: str
    log: Path
    process: BaseProcess

    @contextmanager
    def client(self) -> Iterator[httpx.Client]:
        origin = {"Origin": self.address}
        with httpx.Client(
            base_url=self.address, headers=origin, timeout=PATIENCE_SECONDS
        ) as client:
            yield client

    @contextmanager
    def signed_in(self, name: str) -> Iterator[httpx.Client]:
        with self.client() as client:
            response = post_form(client, {"name": name, "password": PASSWORD})
            assert response.status_code == 303, response.text
            yield client

    def until(self, happened: Callable[[], bool]) -> None:
        """Wait until something has happened; fail if the server ends first."""
        for _ in range(round(PATIENCE_SECONDS / LOOK_SECONDS)):
            if happened():
                return
            self.process.join(LOOK_SECONDS)
            if self.process.exitcode is not None:
                break
        raise AssertionError(self.log.read_text())

    def health(self) -> str:
        """Return the server's health as text, empty while it does not answer."""
        try:
            address = f"{self.address}/healthz"
            # Loading the trusted certificates is slow, and this address is not https.
            return httpx.get(address, timeout=PATIENCE_SECONDS, verify=False).text
        except httpx.ConnectError:
            return ""

    def websocket_status(self, headers: Mapping[str, str]) -> int:
        """Open Streamlit's websocket and return 101 if it opened, else the HTTP status."""
        url = self.address.replace("http", "ws") + "/_stcore/stream"
        subprotocols = [Subprotocol("streamlit")]
        try:
            with connect(url, additional_headers=headers, subprotocols=subprotocols):
                return 101
        except InvalidStatus as refusal:
            return refusal.response.status_code


def post_form(client: httpx.Client, fields: Mapping[str, str]) -> httpx.Response:
    """Fetch the sign-in page as a browser does, and send its form with these fields."""
    page = client.get("/signin")
    token = re.search(r'name="form_token" value="([^"]+)"', page.text)
    assert token is not None
    return client.post("/signin", data={"form_token": token[1], **fields})


def cookie_header(client: httpx.Client) -> str:
    return f"warmcurve_session={client.cookies['warmcurve_session']}"


@contextmanager
def serving(
    store_path: Path,
    *words: str,
    command: str = "serve",
    answers: str = "ok",
    before: Callable[[], None] | None = None,
    **environment: str,
) -> Iterator[LiveServer]:
    """Run `warmcurve serve` on a free port until the block is left.

    The block begins when `/healthz` says `answers`; a server that is not ready says "starting".
    `before`, a function of a module, is called before the command begins.
    """
    port = free_port()
    log = store_path.with_name(f"{command}-{port}.log")
    arguments = [command, "--port", str(port), "--no-browser", "--db", str(store_path), *words]
    process = forked.command(arguments, log, quiet_environment() | environment, before)
    server = LiveServer(f"http://127.0.0.1:{port}", log, process)
    try:
        server.until(lambda: server.health() == answers)
        yield server
    finally:
        with suppress(ProcessLookupError):
            os.kill(process.pid or 0, signal.SIGINT)
        process.join(PATIENCE_SECONDS)
        assert process.exitcode is not None, log.read_text()


def quiet_environment() -> dict[str, str]:
    """Return this environment without our settings, a screen, colours or automatic fits."""
    unwanted = ("WARMCURVE_", "DISPLAY", "WAYLAND_DISPLAY", "FORCE_COLOR")
    kept = {name: value for name, value in os.environ.items() if not name.startswith(unwanted)}
    return {**kept, "NO_COLOR": "1", "WARMCURVE_FIT_AFTER": "never"}


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        return int(listener.getsockname()[1])
