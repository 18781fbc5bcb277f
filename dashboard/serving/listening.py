"""Where the dashboard listens, and under which names it answers."""

from __future__ import annotations

import errno
import re
import socket
from collections.abc import Sequence
from dataclasses import dataclass

from db.errors import StoreError

THIS_MACHINE = "127.0.0.1"
EVERYWHERE = "0.0.0.0"
FIRST_PORT = 8501
PORTS_TRIED = 20
PATH = re.compile(r"(/[a-z0-9][a-z0-9-]*)+", re.ASCII)
NAME = re.compile(r"(\*\.)?[a-z0-9]([a-z0-9.-]*[a-z0-9])?", re.IGNORECASE | re.ASCII)


class CannotServe(StoreError):
    """The dashboard cannot be started; the message says why."""

    title = "The dashboard cannot be started"


@dataclass(frozen=True)
class Where:
    """Where to listen, and under which names to answer.

    Attributes
    ----------
    host : str
        Address or name of this machine, 0.0.0.0 for all of its addresses.
    port : int or None
        By default the first free one from 8501.
    allowed_hosts : sequence of str
        Host names that people or a proxy ask for, besides this machine's own.
    base_path : str
        Its path if others share its host, such as `/club-a`; empty if none do.
    """

    host: str = THIS_MACHINE
    port: int | None = None
    allowed_hosts: Sequence[str] = ()
    base_path: str = ""

    def __post_init__(self) -> None:
        """Refuse bad host names, because the host check relies on them, and a bad path.

        Raises
        ------
        CannotServe
            If a name or the path cannot be used.
        """
        for name in (self.host, *self.allowed_hosts):
            if not NAME.fullmatch(name):
                raise CannotServe(
                    f"'{name}' is not a host such as warmup.example or 192.168.1.20. Write each"
                    " without scheme, port and path."
                )
        if self.base_path and not PATH.fullmatch(self.base_path):
            raise CannotServe(
                f"'{self.base_path}' is not a path such as /club-a. Begin it with a slash, end it"
                " without one, and use small letters, digits and hyphens."
            )

    @property
    def reached_at(self) -> str:
        """The host by which this machine reaches the dashboard itself."""
        return THIS_MACHINE if self.host == EVERYWHERE else self.host

    @property
    def hosts(self) -> list[str]:
        """The hosts under which requests are answered, besides this machine's usual ones."""
        return [*([self.host] if self.host != EVERYWHERE else []), *self.allowed_hosts]

    @property
    def open_to_others(self) -> bool:
        """Whether other machines can reach it without a proxy on this one."""
        return self.host != "localhost" and not self.host.startswith("127.")


ON_THIS_MACHINE = Where()


def listen(where: Where) -> socket.socket:
    """Return a socket that listens there.

    Raises
    ------
    CannotServe
        If the port is taken, or this machine has no such address.
    """
    first, last = FIRST_PORT, FIRST_PORT + PORTS_TRIED - 1
    for port in range(first, last + 1) if where.port is None else [where.port]:
        try:
            listener = socket.create_server((where.host, port))
        except OSError as error:
            if isinstance(error, socket.gaierror) or error.errno == errno.EADDRNOTAVAIL:
                raise CannotServe(
                    f"This machine has no address '{where.host}'. Name one of its own with"
                    " --host, or 0.0.0.0 for all of them."
                ) from error
            continue
        # asyncio sets this only on sockets that name their protocol; without it each small
        # answer waits 40 ms for the client's acknowledgement.
        listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        return listener
    wanted = f"ports {first} to {last} are" if where.port is None else f"port {where.port} is"
    raise CannotServe(
        f"The {wanted} not free on this machine. Stop what runs there, or name another port "
        "with --port."
    )
