"""A certificate made on the spot, by which the phone's page is served encrypted.

Nobody vouches for it: the phone's browser warns, and shows its fingerprint. Whoever compares that with the
fingerprint on the computer's screen knows that nobody sits in between.
"""

from __future__ import annotations

import datetime
import ipaddress
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

VALID_DAYS = 2
"""Days for which a certificate holds; raising it lets one that was copied be used for longer."""
CLOCKS_APART = datetime.timedelta(hours=1)
"""How far a phone's clock may be behind."""


@dataclass(frozen=True)
class Certificate:
    """A certificate with its private key, PEM."""

    certificate: bytes
    key: bytes

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the certificate as browsers show it: pairs of hexadecimal digits."""
        digest = x509.load_pem_x509_certificate(self.certificate).fingerprint(hashes.SHA256())
        return " ".join(f"{byte:02X}" for byte in digest)

    @contextmanager
    def files(self) -> Iterator[tuple[Path, Path]]:
        """Give certificate and key as files that nobody else can read, for as long as they are needed."""
        with tempfile.TemporaryDirectory(prefix="hubsight-key-") as folder:  # its owner's alone
            certificate, key = Path(folder) / "certificate.pem", Path(folder) / "key.pem"
            certificate.write_bytes(self.certificate)
            key.write_bytes(self.key)
            yield certificate, key


def make_certificate(address: str) -> Certificate:
    """Return a new certificate for a server on an IP address, signed by its own new key (ECDSA, P-256)."""
    key = ec.generate_private_key(ec.SECP256R1())
    alternative = x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address(address))])
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"hubsight bench at {address}")])
    now = datetime.datetime.now(datetime.UTC)
    built = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - CLOCKS_APART)
        .not_valid_after(now + datetime.timedelta(days=VALID_DAYS))
        .add_extension(alternative, critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    return Certificate(
        built.public_bytes(serialization.Encoding.PEM),
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        ),
    )
