"""The club's own sign-in: an OpenID Connect provider, named in a settings file."""

from __future__ import annotations

import os
import stat
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

from db.errors import StoreError

NEEDED = ("issuer", "client_id", "client_secret", "label")
LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})


class WrongSettings(StoreError):
    """The settings file cannot be used; the message says why."""

    title = "The club's sign-in cannot be used"


@dataclass(frozen=True)
class Provider:
    """An OpenID Connect provider, and how warmcurve is registered there.

    Attributes
    ----------
    issuer : str
        Its address, under which ``/.well-known/openid-configuration`` describes it.
    client_id, client_secret : str
        What it issued for warmcurve.
    label : str
        Its name for people, as on the button "Sign in with ...".
    """

    issuer: str
    client_id: str
    client_secret: str = field(repr=False)
    label: str


_used: list[Provider] = []


def use_provider(provider: Provider | None) -> None:
    """Let people sign in with this provider from now on, or with none."""
    _used[:] = [] if provider is None else [provider]


def used_provider() -> Provider | None:
    """Return the provider that the running dashboard uses, if any."""
    return next(iter(_used), None)


def read_provider(path: Path) -> Provider:
    """Read the provider's settings from a TOML file that only its owner can read.

    Raises
    ------
    WrongSettings
        If the file cannot be read, others can read it, a setting is missing or unknown, or the
        issuer is neither https nor on this machine.
    """
    settings = _settings(path)
    for name in sorted({*NEEDED, *settings}):
        if name not in NEEDED:
            raise WrongSettings(f"{path} has a setting '{name}'; there are {', '.join(NEEDED)}.")
        if not isinstance(settings.get(name), str) or not str(settings[name]).strip():
            raise WrongSettings(f'{path} needs a line: {name} = "..." with a text in it.')
    provider = Provider(**{name: str(settings[name]).strip() for name in NEEDED})
    if not is_safe(provider.issuer):
        raise WrongSettings(
            f"The issuer '{provider.issuer}' in {path} is not an address that begins with "
            "https://. Plain http is only for a provider on this machine."
        )
    return provider


def is_safe(address: object) -> bool:
    """Tell whether what is sent to an address cannot be read on the way."""
    if not isinstance(address, str):
        return False
    try:
        parts = urlsplit(address)
        scheme, host = parts.scheme, parts.hostname
    except ValueError:
        return False
    return bool(host) and (scheme == "https" or (scheme == "http" and host in LOOPBACK))


def _settings(path: Path) -> dict[str, object]:
    try:
        with path.open("rb") as file:
            if os.name == "posix" and stat.S_IMODE(os.fstat(file.fileno()).st_mode) & 0o077:
                raise WrongSettings(
                    f"{path} holds a secret, and other accounts of this machine can open it. "
                    f"Make it yours alone first: chmod 600 {path}"
                )
            return tomllib.load(file)
    except OSError as error:
        raise WrongSettings(f"{path} cannot be read: {error.strerror}. Check the name.") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        # The error's own words may quote the secret.
        raise WrongSettings(
            f'{path} cannot be understood. Write one setting a line, such as label = "Our club".'
        ) from error
