"""Encrypt files with a passphrase, in the age format, which public tools can open too."""

from __future__ import annotations

from pathlib import Path

from db.backup import first_container
from db.errors import BadInput, StoreDamaged

SHORTEST_PASSPHRASE = 12
BEGINS = b"age-encryption.org/v1\n-> scrypt "
"""How a file with a passphrase begins (C2SP, The age file encryption format, v1)."""


def encrypt(content: bytes, passphrase: str) -> bytes:
    """Return an age file that only the passphrase opens.

    Raises
    ------
    BadInput
        If the passphrase is too short.
    """
    from pyrage import passphrase as age

    check_passphrase(passphrase)
    return age.encrypt(content, passphrase)


def decrypt(source: Path, passphrase: str) -> bytes:
    """Return the content of an encrypted file, which may be from the first versions.

    Raises
    ------
    BadInput
        If the passphrase is not the one it was made with.
    StoreDamaged
        If the file is not an encrypted backup, or has changed since it was made.
    """
    from pyrage import DecryptError
    from pyrage import passphrase as age

    sealed = source.read_bytes()
    if sealed.startswith(first_container.BEGINS):
        return first_container.opened(sealed, source, passphrase)
    if not sealed.startswith(BEGINS):
        raise StoreDamaged(f"The file {source} is not an encrypted backup. Name another one.")
    try:
        return age.decrypt(sealed, passphrase)
    except DecryptError as error:
        if str(error) == "Decryption failed":  # the key failed, before any content
            raise BadInput(
                f"The backup {source} does not open with this passphrase. Give the one that it "
                "was made with."
            ) from error
        raise StoreDamaged(
            f"The backup {source} is not as it was made ({error}). Take another one."
        ) from error


def check_passphrase(passphrase: str) -> None:
    """Raise unless a passphrase is long enough for a new backup."""
    if len(passphrase) < SHORTEST_PASSPHRASE:
        raise BadInput(
            f"The passphrase is too short. Take at least {SHORTEST_PASSPHRASE} characters, such "
            "as a few plain words, and keep it where the backups are not."
        )
