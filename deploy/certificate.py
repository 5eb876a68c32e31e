"""A certificate of this machine's own, since browsers open a camera on a secure page only; `deploy/demo --network` runs
this in .venv.

A small authority is made, signs one certificate for the addresses of this machine, and its key is thrown away at once:
whoever trusts it trusts this one machine, and nothing can be signed with it later. For trying out; a plant has its
certificates from its own authority or a public one.
"""

from __future__ import annotations

import argparse
import ipaddress
import os
import sys
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from deploy.network import AUTHORITY, KEY, SERVER

DAYS = 30
RENEW_DAYS = 7  # with fewer days left a new one is made
PEM = serialization.Encoding.PEM
# No blank stands in a host's name: a reader that still looks for hosts in here (RFC 6125, 6.4.4) finds none.
SUBJECT = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Lotwright demo")])


def make(folder: Path, addresses: Sequence[str]) -> None:
    """Write authority.crt, server.crt (with the authority) and server.key, the last readable by this user only.

    addresses: IP addresses; localhost is always named too. ECDSA on P-256; the authority's name constraints
    (RFC 5280, 4.2.1.10, critical) hold it to these. Raises OSError.
    """
    now = datetime.now(UTC) - timedelta(minutes=5)  # a phone's clock may be a little behind
    until = now + timedelta(days=DAYS)
    authority_key, server_key = ec.generate_private_key(ec.SECP256R1()), ec.generate_private_key(ec.SECP256R1())
    hosts = [x509.IPAddress(ipaddress.ip_network(one)) for one in addresses]
    issuer = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Lotwright demo, made {now:%Y-%m-%d %H:%M} UTC")])
    authority = (
        x509.CertificateBuilder(issuer, issuer, authority_key.public_key(), x509.random_serial_number(), now, until)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(x509.NameConstraints([*hosts, x509.DNSName("localhost")], None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(authority_key.public_key()), critical=False)
        .sign(authority_key, hashes.SHA256())
    )
    names = [x509.IPAddress(ipaddress.ip_address(one)) for one in addresses]
    identifier = x509.AuthorityKeyIdentifier.from_issuer_public_key(authority_key.public_key())
    server = (
        x509.CertificateBuilder(issuer, SUBJECT, server_key.public_key(), x509.random_serial_number(), now, until)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName([*names, x509.DNSName("localhost")]), critical=False)
        .add_extension(identifier, critical=False)
        .sign(authority_key, hashes.SHA256())
    )
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    (folder / KEY).unlink(missing_ok=True)
    key = server_key.private_bytes(PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    # Made anew with its mode: never open to others, not even while it is being written.
    with os.fdopen(os.open(folder / KEY, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(key)
    (folder / AUTHORITY).write_bytes(authority.public_bytes(PEM))
    (folder / SERVER).write_bytes(server.public_bytes(PEM) + authority.public_bytes(PEM))


def fits(folder: Path, addresses: Sequence[str]) -> bool:
    """Whether what stands in the folder is whole, is for these addresses and holds for RENEW_DAYS more."""
    try:
        server, authority = x509.load_pem_x509_certificates((folder / SERVER).read_bytes())
        names = server.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
        key = serialization.load_pem_private_key((folder / KEY).read_bytes(), None)
        kept = x509.load_pem_x509_certificate((folder / AUTHORITY).read_bytes())
    except (OSError, ValueError, x509.ExtensionNotFound):
        return False
    held = {str(one) for one in names.get_values_for_type(x509.IPAddress)}
    left = server.not_valid_after_utc - datetime.now(UTC)
    whole = kept == authority and key.public_key() == server.public_key()
    return whole and held == set(addresses) and left > timedelta(days=RENEW_DAYS)


def fingerprint(folder: Path) -> str:
    """The authority's SHA-256 fingerprint as phones show it: 32 pairs of hexadecimal digits between colons."""
    authority = x509.load_pem_x509_certificate((folder / AUTHORITY).read_bytes())
    return authority.fingerprint(hashes.SHA256()).hex(":").upper()


def _usage(*, signs: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs, key_cert_sign=signs, crl_sign=signs, content_commitment=False,
        key_encipherment=False, data_encipherment=False, key_agreement=False, encipher_only=False, decipher_only=False,
    )  # fmt: skip


def main() -> int:
    """The command line: folder, the file in which a phone finds the authority's certificate, addresses.

    Makes the certificate when none fits; prints the fingerprint.
    """
    parser = argparse.ArgumentParser(prog="python -m deploy.certificate")
    parser.add_argument("folder", type=Path)
    parser.add_argument("fetched", type=Path)
    parser.add_argument("addresses", nargs="+")
    arguments = parser.parse_args()
    if not fits(arguments.folder, arguments.addresses):
        make(arguments.folder, arguments.addresses)
    arguments.fetched.parent.mkdir(parents=True, exist_ok=True)
    arguments.fetched.write_bytes((arguments.folder / AUTHORITY).read_bytes())
    print(fingerprint(arguments.folder))
    return 0


if __name__ == "__main__":
    sys.exit(main())
