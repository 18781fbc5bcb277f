"""Encrypted files whose key is cheap to derive; they open like any other.

The library spends about a second deriving a key, so that each guess costs an attacker as much.
Every opening pays that second again.
"""

from __future__ import annotations

import hmac
import secrets
from base64 import b64encode
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt
from pyrage import passphrase as age

AS_SHIPPED = age.encrypt
"""The library's own function, for tests of the files that it makes."""

LOG_COST, CHUNK_BYTES = 4, 1 << 16


@contextmanager
def cheap_seals() -> Iterator[None]:
    """Encrypt files cheaply inside the block."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(age, "encrypt", sealed)
        yield


def sealed(content: bytes, passphrase: str) -> bytes:
    """Return an age file in the format that https://c2sp.org/age describes."""
    salt, file_key, nonce = (secrets.token_bytes(16) for _ in range(3))
    spiced = b"age-encryption.org/v1/scrypt" + salt
    key = Scrypt(salt=spiced, length=32, n=1 << LOG_COST, r=8, p=1).derive(passphrase.encode())
    wrapped = ChaCha20Poly1305(key).encrypt(bytes(12), file_key, None)
    head = b"age-encryption.org/v1\n-> scrypt %b %d\n%b\n---" % (
        _plain(salt),
        LOG_COST,
        _plain(wrapped),
    )
    head_key = HKDF(SHA256(), 32, salt=None, info=b"header").derive(file_key)
    payload_key = HKDF(SHA256(), 32, salt=nonce, info=b"payload").derive(file_key)
    chunks = [content[at : at + CHUNK_BYTES] for at in range(0, len(content), CHUNK_BYTES)] or [b""]
    return b"".join(
        [
            head,
            b" %b\n" % _plain(hmac.digest(head_key, head, "sha256")),
            nonce,
            *(
                ChaCha20Poly1305(payload_key).encrypt(
                    number.to_bytes(11, "big") + bytes([number == len(chunks) - 1]), chunk, None
                )
                for number, chunk in enumerate(chunks)
            ),
        ]
    )


def _plain(content: bytes) -> bytes:
    return b64encode(content).rstrip(b"=")
