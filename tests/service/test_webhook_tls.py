"""Over TLS the receiver must have a certificate for its name, by an authority that is trusted."""

import asyncio
import ssl
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from receiver import Receiver, receiving
from service.test_webhook_sender import sent
from wrung_service.usecases.webhooks.sending import Reply

HOST = "erp.example"


@pytest.fixture
def certificate(tmp_path: Path) -> Path:
    """A certificate of `HOST` that is its own authority, with its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, HOST)])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(HOST)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    path = tmp_path / "receiver.pem"
    private = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    path.write_bytes(made.public_bytes(serialization.Encoding.PEM) + private)
    return path


@pytest.fixture
def receiver(certificate: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Receiver]:
    """Every name leads to it."""
    resolve = asyncio.BaseEventLoop.getaddrinfo

    async def resolved(
        loop: asyncio.BaseEventLoop, _: str, port: int, **how: int
    ) -> list[tuple[object, ...]]:
        return list(await resolve(loop, "127.0.0.1", port, **how))

    monkeypatch.setattr(asyncio.BaseEventLoop, "getaddrinfo", resolved)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate)
    with receiving(context) as made:
        yield made


def ask(receiver: Receiver, host: str) -> Reply:
    return sent(receiver.url.replace("http://127.0.0.1", f"https://{host}"))


def test_a_private_authority_is_trusted_if_it_is_named(
    receiver: Receiver, certificate: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SSL_CERT_FILE", str(certificate))

    assert ask(receiver, HOST) == Reply(status=204)
    assert ask(receiver, "other.example") == Reply(fault="tls")
    assert len(receiver.received) == 1


def test_an_unknown_authority_is_not(receiver: Receiver) -> None:
    assert ask(receiver, HOST) == Reply(fault="tls")
    assert receiver.received == []
