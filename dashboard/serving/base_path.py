"""Serve the dashboard under a path such as `/club-a/`, so that several can share a host."""

from __future__ import annotations

from starlette.responses import PlainTextResponse, RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocketClose

FOR_THE_MACHINE = "/healthz"
"""Monitors ask the server at its own address, so this one works without the base path."""


class UnderBasePath:
    """Removes a path from every request to an application, and adds it to the answers.

    The application needs to know the path only for addresses that it writes itself. Its cookies
    are not sent to the others on the host.

    Parameters
    ----------
    app : ASGIApp
    base_path : str
        Such as `/club-a`.
    """

    def __init__(self, app: ASGIApp, base_path: str) -> None:
        self.app = app
        self.base_path = base_path

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on requests under the path, and answer any others with where the dashboard is."""
        if scope["type"] == "lifespan" or scope["path"] == FOR_THE_MACHINE:
            await self.app(scope, receive, send)
        elif scope["path"].startswith(f"{self.base_path}/"):
            inside = {
                "path": scope["path"].removeprefix(self.base_path),
                "raw_path": scope["raw_path"].removeprefix(self.base_path.encode()),
            }
            await self.app({**scope, **inside}, receive, self._outside(send))
        else:
            await self._elsewhere(scope)(scope, receive, send)

    def _elsewhere(self, scope: Scope) -> ASGIApp:
        if scope["type"] == "websocket":
            return WebSocketClose()
        if scope["path"] == self.base_path:
            return RedirectResponse(f"{self.base_path}/")
        return PlainTextResponse(f"The dashboard is at {self.base_path}/ here.", 404)

    def _outside(self, send: Send) -> Send:
        async def send_outside(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = [self._header(*header) for header in message["headers"]]
                message = {**message, "headers": headers}
            await send(message)

        return send_outside

    def _header(self, name: bytes, value: bytes) -> tuple[bytes, bytes]:
        """Return a header with the base path added to a redirect's target or a cookie's path."""
        path = self.base_path.encode()
        if name.lower() == b"location" and value.startswith(b"/"):
            return name, path + value
        if name.lower() == b"set-cookie":
            parts = [part.strip() for part in value.split(b";")]
            kept = [part for part in parts if not part.lower().startswith(b"path=")]
            return name, b"; ".join([*kept, b"Path=" + path])
        return name, value
