"""A TLS proxy in front of a server, as docs/deployment.md asks for."""

from __future__ import annotations

import socket
import ssl
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from socketserver import BaseRequestHandler, ThreadingTCPServer
from threading import Thread

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

ADDED = "X-Forwarded-For: 192.0.2.7\r\nX-Forwarded-Proto: https\r\n"


def write_certificate(path: Path, host: str) -> None:
    """Write a key and a certificate signed with it."""
    key, name = (
        ec.generate_private_key(ec.SECP256R1()),
        x509.NameAttribute(NameOID.COMMON_NAME, host),
    )
    now = datetime.now(UTC)
    certificate = (
        x509.CertificateBuilder(x509.Name([name]), x509.Name([name]), key.public_key(), 1)
        .not_valid_before(now - timedelta(minutes=1))
        .not_valid_after(now + timedelta(hours=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(host)]), critical=False)
        .sign(key, hashes.SHA256())
    )
    path.write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
        + certificate.public_bytes(serialization.Encoding.PEM)
    )


@contextmanager
def tls_in_front_of(port: int, certificate: Path) -> Iterator[int]:
    """Run the proxy until the block is left; yields its port."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate)

    class Handler(BaseRequestHandler):
        def handle(self) -> None:
            with suppress(OSError), context.wrap_socket(self.request, server_side=True) as client:
                with socket.create_connection(("127.0.0.1", port)) as server:
                    head = b""
                    while b"\r\n\r\n" not in head and (more := client.recv(65536)):
                        head += more
                    server.sendall(_passed_on(head))
                    back = Thread(target=_pour, args=(server, client), daemon=True)
                    back.start()
                    _pour(client, server)
                    back.join(5)

    with ThreadingTCPServer(("127.0.0.1", 0), Handler) as proxy:
        proxy.daemon_threads = True
        thread = Thread(target=proxy.serve_forever, args=(0.02,))
        thread.start()
        try:
            yield proxy.server_address[1]
        finally:
            proxy.shutdown()
            thread.join()


def _passed_on(head: bytes) -> bytes:
    """Add a proxy's headers to the beginning of a request, and allow one request a connection."""
    first, _, rest = head.partition(b"\r\n")
    ending = "" if b"upgrade: websocket" in head.lower() else "Connection: close\r\n"
    return first + b"\r\n" + (ADDED + ending).encode() + rest


def _pour(source: socket.socket, target: socket.socket) -> None:
    with suppress(OSError):
        while content := source.recv(65536):
            target.sendall(content)
    with suppress(OSError):
        target.shutdown(socket.SHUT_RDWR)
