"""The command `warmcurve serve` as a process of its own, and how a browser talks to it."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx2 as httpx
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect
from websockets.typing import Subprotocol

from dashboard.serve import wait_until_up
from tests.dashboard.conftest import PASSWORD

WARMCURVE = [sys.executable, "-c", "from dashboard.command_line import main; main()"]


@dataclass(frozen=True)
class LiveServer:
    address: str
    log: Path
    process: subprocess.Popen[bytes]

    @contextmanager
    def client(self) -> Iterator[httpx.Client]:
        origin = {"Origin": self.address}
        with httpx.Client(base_url=self.address, headers=origin, timeout=20) as client:
            yield client

    @contextmanager
    def signed_in(self, name: str) -> Iterator[httpx.Client]:
        with self.client() as client:
            response = post_form(client, {"name": name, "password": PASSWORD})
            assert response.status_code == 303, response.text
            yield client

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
def serving(store_path: Path, *words: str, command: str = "serve") -> Iterator[LiveServer]:
    """Run `warmcurve serve` on a free port until the block is left."""
    port = free_port()
    log = store_path.with_name(f"{command}-{port}.log")
    arguments = [command, "--port", str(port), "--no-browser", "--db", str(store_path), *words]
    with log.open("wb") as output:
        process = subprocess.Popen(
            [*WARMCURVE, *arguments], stdout=output, stderr=output, env=quiet_environment()
        )
    try:
        address = f"http://127.0.0.1:{port}"
        assert wait_until_up(address, 40), log.read_text()
        yield LiveServer(address, log, process)
    finally:
        process.send_signal(signal.SIGINT)
        process.wait(20)


def quiet_environment() -> dict[str, str]:
    """Return this environment without a store, a screen or colours."""
    unwanted = {"WARMCURVE_DB", "DISPLAY", "WAYLAND_DISPLAY", "FORCE_COLOR"}
    kept = {name: value for name, value in os.environ.items() if name not in unwanted}
    return {**kept, "NO_COLOR": "1"}


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        return int(listener.getsockname()[1])
