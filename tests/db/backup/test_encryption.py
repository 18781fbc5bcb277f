"""Encrypted backups: in the age format, and those of the first versions."""

from __future__ import annotations

import re
import shutil
import tarfile
from base64 import b64decode
from io import BytesIO
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM, ChaCha20Poly1305
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt
from pyrage import passphrase as age

from db.backup.copying import restore
from db.backup.encryption import decrypt, encrypt
from db.efforts.rows import efforts
from db.errors import BadInput, StoreDamaged
from db.file.copies import backups_in
from db.file.store import Store
from tests.cheap_seals import AS_SHIPPED

PASSPHRASE = "plain words for a test"
OLD = b"warmcurve encrypted backup 1\n"


def opened_by_the_format_s_description(sealed: bytes, passphrase: str) -> bytes:
    """Open an age file of one chunk as https://c2sp.org/age describes it."""
    head, mac, payload = re.fullmatch(rb"(.*\n---) ([\w+/]{43})\n(.*)", sealed, re.DOTALL).groups()
    salt, cost, wrapped = re.search(rb"\n-> scrypt (\S+) (\d+)\n(\S+)\n", head).groups()

    def plain(text: bytes) -> bytes:
        return b64decode(text + b"=" * (-len(text) % 4))

    spiced = b"age-encryption.org/v1/scrypt" + plain(salt)
    key = Scrypt(salt=spiced, length=32, n=1 << int(cost), r=8, p=1).derive(passphrase.encode())
    file_key = ChaCha20Poly1305(key).decrypt(bytes(12), plain(wrapped), None)
    nonce, chunk = payload[:16], payload[16:]
    payload_key = HKDF(SHA256(), 32, salt=nonce, info=b"payload").derive(file_key)
    return ChaCha20Poly1305(payload_key).decrypt(bytes(11) + b"\x01", chunk, None)


def sealed_as_before(content: bytes, passphrase: str) -> bytes:
    """Encrypt as the first version did."""
    salt, prefix = bytes(range(16)), bytes(range(7))
    head = OLD + salt + prefix
    key = Scrypt(salt=salt, length=32, n=1 << 17, r=8, p=1).derive(passphrase.encode())
    chunks = [content[at : at + (1 << 20)] for at in range(0, max(len(content), 1), 1 << 20)]
    return head + b"".join(
        AESGCM(key).encrypt(
            prefix + number.to_bytes(4, "big") + bytes([number == len(chunks) - 1]), chunk, head
        )
        for number, chunk in enumerate(chunks)
    )


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "warmcurve-20260301T090000.000000Z.tar.age"


def test_an_encrypted_file_follows_the_age_format(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(age, "encrypt", AS_SHIPPED)
    sealed = encrypt(b"rows of a club", PASSPHRASE)
    assert opened_by_the_format_s_description(sealed, PASSPHRASE) == b"rows of a club"
    cost = re.search(rb"-> scrypt \S+ (\d+)", sealed)
    assert cost and int(cost[1]) >= 14, "a guess costs work"
    file.write_bytes(sealed)
    assert decrypt(file, PASSPHRASE) == b"rows of a club"


def test_a_changed_encrypted_file_is_never_opened(file: Path) -> None:
    whole = encrypt(bytes(200_000), PASSPHRASE)
    chunk = (1 << 16) + 16
    swapped = whole[: -2 * chunk] + whole[-chunk:] + whole[-2 * chunk : -chunk]
    flipped = whole[:-1] + bytes([whole[-1] ^ 1])
    for content in (whole[:-1], whole[:-chunk], whole + b"x", swapped, flipped):
        file.write_bytes(content)
        with pytest.raises(StoreDamaged, match="not as it was made.*Take another one"):
            decrypt(file, PASSPHRASE)


@pytest.mark.parametrize("content", [b"", b"rows", b"age-encryption.org/v1\n-> X25519 abc\n"])
def test_a_file_that_is_not_an_encrypted_backup_is_refused(file: Path, content: bytes) -> None:
    file.write_bytes(content)
    with pytest.raises(StoreDamaged, match="is not an encrypted backup. Name another one"):
        decrypt(file, PASSPHRASE)


@pytest.mark.parametrize("size", [0, 1, 1 << 20, (1 << 21) + 1])
def test_a_file_of_the_first_versions_opens_unless_it_was_changed(file: Path, size: int) -> None:
    content = bytes(range(256)) * (size // 256) + bytes(size % 256)
    whole = sealed_as_before(content, PASSPHRASE)
    file.write_bytes(whole)
    assert decrypt(file, PASSPHRASE) == content
    file.write_bytes(whole[:-1] + bytes([whole[-1] ^ 1]))
    last_of_several = size > 1 << 20
    with pytest.raises(StoreDamaged if last_of_several else BadInput, match="as it was|passphrase"):
        decrypt(file, PASSPHRASE)
    file.write_bytes(whole[: -1 - 16])
    with pytest.raises((StoreDamaged, BadInput), match="as it was|passphrase"):
        decrypt(file, PASSPHRASE)


def test_an_encrypted_backup_of_the_first_version_is_restored(tmp_path: Path) -> None:
    packed = BytesIO()
    shutil.unpack_archive(Path(__file__).parents[1] / "data" / "backup_schema_1.zip", tmp_path)
    (folder,) = tmp_path.glob("warmcurve-*")
    with tarfile.open(fileobj=packed, mode="w") as tar:
        tar.add(folder, arcname=folder.name)
    sealed = tmp_path / "backups" / f"{folder.name}.encrypted"
    sealed.parent.mkdir()
    sealed.write_bytes(sealed_as_before(packed.getvalue(), PASSPHRASE))
    assert [path for _, path in backups_in(sealed.parent)] == [sealed]
    restored = Store(tmp_path / "new.duckdb")
    restore(sealed, restored.path, PASSPHRASE)
    assert len(efforts(restored, "jump_height")) == 36
