"""Open encrypted backups of the first versions, which are no longer made.

They are AES-256-GCM over chunks, with a key from scrypt. Every chunk carries its number and
whether it is the last, so none can be changed, left out, moved or cut off unnoticed (Hoang et al.
2015, online authenticated encryption).
"""

from __future__ import annotations

from pathlib import Path

from db.errors import BadInput, StoreDamaged

BEGINS = b"warmcurve encrypted backup 1\n"
SALT_BYTES, PREFIX_BYTES, TAG_BYTES = 16, 7, 16
CHUNK_BYTES = 1 << 20
SCRYPT_COST = 1 << 17


def opened(sealed: bytes, source: Path, passphrase: str) -> bytes:
    """Return the content of a file of the first versions.

    Raises
    ------
    BadInput
        If the passphrase is not the one it was made with.
    StoreDamaged
        If the file is not as it was made.
    """
    from cryptography.exceptions import InvalidTag
    from cryptography.hazmat.primitives.ciphers.aead import AESGCM
    from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

    salt_at, begins_at = len(BEGINS), len(BEGINS) + SALT_BYTES + PREFIX_BYTES
    head, chunks = sealed[:begins_at], _chunks(sealed[begins_at:])
    salt, prefix = head[salt_at : salt_at + SALT_BYTES], head[-PREFIX_BYTES:]
    key = Scrypt(salt=salt, length=32, n=SCRYPT_COST, r=8, p=1).derive(passphrase.encode())
    cipher, content = AESGCM(key), []
    for number, chunk in enumerate(chunks):
        nonce = prefix + number.to_bytes(4, "big") + bytes([number == len(chunks) - 1])
        try:
            content.append(cipher.decrypt(nonce, chunk, head))
        except InvalidTag as error:
            raise _not_opened(source, number) from error
    return b"".join(content)


def _chunks(sealed: bytes) -> list[bytes]:
    """Cut into chunks, always at least one."""
    size = CHUNK_BYTES + TAG_BYTES
    return [sealed[at : at + size] for at in range(0, max(len(sealed), 1), size)]


def _not_opened(source: Path, number: int) -> BadInput | StoreDamaged:
    if number:
        return StoreDamaged(f"The backup {source} is not as it was made. Take another one.")
    return BadInput(
        f"The backup {source} does not open with this passphrase, or its beginning is damaged. "
        "Give the passphrase that it was made with."
    )
