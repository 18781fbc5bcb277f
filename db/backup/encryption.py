"""Files that only a passphrase opens: AES-256 in GCM over chunks, the key by scrypt.

Every chunk bears its number and whether it is the last, so that none can be changed, left
out, put elsewhere or cut off unnoticed (Hoang et al. 2015, online authenticated encryption).
"""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

from db.errors import BadInput, StoreDamaged

MAGIC = b"warmcurve encrypted backup 1\n"
SALT_BYTES, PREFIX_BYTES, TAG_BYTES = 16, 7, 16
CHUNK_BYTES = 1 << 20
SHORTEST_PASSPHRASE = 12
SCRYPT_COST = 1 << 17
"""As OWASP's advice on storing passwords has it (from memory): 128 MiB for each try."""


def encrypt(source: Path, target: Path, passphrase: str) -> None:
    """Write a file so that only the passphrase opens it.

    Raises
    ------
    BadInput
        If the passphrase is too short.
    """
    check_passphrase(passphrase)
    salt, prefix = secrets.token_bytes(SALT_BYTES), secrets.token_bytes(PREFIX_BYTES)
    head = MAGIC + salt + prefix
    cipher = _cipher(passphrase, salt)
    with source.open("rb") as plain, target.open("xb") as sealed:
        target.chmod(0o600)
        sealed.write(head)
        for number, chunk, last in _chunks(plain, CHUNK_BYTES):
            sealed.write(cipher.encrypt(_nonce(prefix, number, last), chunk, head))


def decrypt(source: Path, target: Path, passphrase: str) -> None:
    """Write what an encrypted file holds to a new file.

    Raises
    ------
    BadInput
        If the passphrase is not the one it was made with.
    StoreDamaged
        If the file is none of ours, or is not as it was made.
    """
    with source.open("rb") as sealed, target.open("xb") as plain:
        target.chmod(0o600)
        head = sealed.read(len(MAGIC) + SALT_BYTES + PREFIX_BYTES)
        if not head.startswith(MAGIC) or len(head) < len(MAGIC) + SALT_BYTES + PREFIX_BYTES:
            raise StoreDamaged(f"The file {source} is not an encrypted backup. Name another one.")
        salt, prefix = head[len(MAGIC) : -PREFIX_BYTES], head[-PREFIX_BYTES:]
        cipher = _cipher(passphrase, salt)
        for number, chunk, last in _chunks(sealed, CHUNK_BYTES + TAG_BYTES):
            try:
                plain.write(cipher.decrypt(_nonce(prefix, number, last), chunk, head))
            except InvalidTag as error:
                raise _not_opened(source, number) from error


def check_passphrase(passphrase: str) -> None:
    """Raise unless a passphrase is long enough for a new backup."""
    if len(passphrase) < SHORTEST_PASSPHRASE:
        raise BadInput(
            f"The passphrase is too short. Take at least {SHORTEST_PASSPHRASE} characters, such "
            "as a few plain words, and keep it where the backups are not."
        )


def _not_opened(source: Path, number: int) -> BadInput | StoreDamaged:
    if number:
        return StoreDamaged(f"The backup {source} is not as it was made. Take another one.")
    return BadInput(
        f"The backup {source} does not open with this passphrase, or its beginning is damaged. "
        "Give the passphrase that it was made with."
    )


def _cipher(passphrase: str, salt: bytes) -> AESGCM:
    key = Scrypt(salt=salt, length=32, n=SCRYPT_COST, r=8, p=1).derive(passphrase.encode())
    return AESGCM(key)


def _nonce(prefix: bytes, number: int, last: bool) -> bytes:
    return prefix + number.to_bytes(4, "big") + bytes([last])


def _chunks(file: BinaryIO, size: int) -> Iterator[tuple[int, bytes, bool]]:
    """Yield number, bytes, and whether it is the last chunk, of which there is always one."""
    number, chunk = 0, file.read(size)
    while following := file.read(size):
        yield number, chunk, False
        number, chunk = number + 1, following
    yield number, chunk, True
