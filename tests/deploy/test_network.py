"""`deploy/demo --network`: a certificate that browsers accept for this machine and nothing else, and a key kept close.

Whether a certificate is good is asked of OpenSSL, through Python's ssl; the rules are those of RFC 5280 and RFC 6125.
"""

import hashlib
import os
import socket
import ssl
import sys
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.x509.oid import ExtendedKeyUsageOID

from deploy import certificate, run_demo
from deploy.network import CAUTION, EVERYWHERE, LOOPBACK, Site, own_addresses
from deploy.stops import StopError
from plant import env

# Of the block that is kept for documents (RFC 5737).
ADDRESSES = ("192.0.2.7", "127.0.0.1")


@pytest.fixture
def made(tmp_path: Path) -> Path:
    folder = tmp_path / "network"
    certificate.make(folder, ADDRESSES)
    return folder


@pytest.fixture
def port(made: Path) -> Iterator[int]:
    """A TLS server of Python's own with the certificate that was made; it answers one greeting a connection."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(made / "server.crt", made / "server.key")
    with socket.create_server((LOOPBACK, 0)) as listening:

        def serve() -> None:
            while True:
                try:
                    connection, _ = listening.accept()
                except OSError:
                    return
                with connection:
                    connection.settimeout(10)
                    try:
                        with context.wrap_socket(connection, server_side=True) as secure:
                            secure.sendall(b"hull")
                    except OSError:
                        continue

        thread = threading.Thread(target=serve)
        thread.start()
        yield int(listening.getsockname()[1])
        # Closing alone does not wake the thread that waits in accept().
        listening.shutdown(socket.SHUT_RDWR)
        thread.join(timeout=20)
        assert not thread.is_alive()


def greeting(port: int, name: str, authority: Path | None) -> bytes:
    context = ssl.create_default_context(cafile=authority)
    # As strict as RFC 5280 has it; Python 3.13 and later have this by themselves.
    context.verify_flags |= ssl.VERIFY_X509_STRICT
    with (
        socket.create_connection((LOOPBACK, port), timeout=10) as plain,
        context.wrap_socket(plain, server_hostname=name) as secure,
    ):
        return secure.recv(4)


@pytest.mark.parametrize("name", [*ADDRESSES, "localhost"])
def test_it_is_good_for_its_names(made: Path, port: int, name: str) -> None:
    assert greeting(port, name, made / "authority.crt") == b"hull"


@pytest.mark.parametrize("name", ["192.0.2.8", "plant.example", "sub.localhost", "Lotwright demo"])
def test_it_is_refused_for_another_name(made: Path, port: int, name: str) -> None:
    with pytest.raises(ssl.SSLCertVerificationError, match="mismatch"):
        greeting(port, name, made / "authority.crt")


def test_nobody_trusts_it_without_its_own_authority(made: Path, port: int, tmp_path: Path) -> None:
    certificate.make(tmp_path / "other", ADDRESSES)
    for authority in (None, tmp_path / "other" / "authority.crt"):
        with pytest.raises(ssl.SSLCertVerificationError):
            greeting(port, "localhost", authority)


def test_only_who_serves_can_read_the_key_and_the_authority_has_none_left(made: Path) -> None:
    assert made.stat().st_mode & 0o777 == 0o700
    assert {path.name for path in made.iterdir()} == {"authority.crt", "server.crt", "server.key"}
    key = made / "server.key"
    assert key.stat().st_mode & 0o777 == 0o600
    # Also where one lay there open to all.
    key.chmod(0o644)
    certificate.make(made, ADDRESSES)
    assert key.stat().st_mode & 0o777 == 0o600
    assert key.read_bytes().count(b"PRIVATE KEY") == 2
    assert not any(b"PRIVATE" in path.read_bytes() for path in made.glob("*.crt"))


def test_it_holds_for_weeks_and_its_authority_vouches_for_nothing_else(made: Path) -> None:
    server, authority = x509.load_pem_x509_certificates((made / "server.crt").read_bytes())
    server.verify_directly_issued_by(authority)
    for one in (server, authority):
        left = one.not_valid_after_utc - datetime.now(UTC)
        assert timedelta(days=certificate.DAYS - 1) < left <= timedelta(days=certificate.DAYS)
    limits = authority.extensions.get_extension_for_class(x509.NameConstraints)
    assert limits.critical
    assert {str(one.value) for one in limits.value.permitted_subtrees or ()} == {
        "192.0.2.7/32", "127.0.0.1/32", "localhost",
    }  # fmt: skip
    extended = server.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(extended) == [ExtendedKeyUsageOID.SERVER_AUTH]


def test_it_is_kept_while_it_fits_and_made_anew_otherwise(
    made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    fetched = tmp_path / "static" / "demo-authority.crt"

    def start(*addresses: str) -> str:
        monkeypatch.setattr(sys, "argv", ["certificate", str(made), str(fetched), *addresses])
        assert certificate.main() == 0
        assert fetched.read_bytes() == (made / "authority.crt").read_bytes()
        return capsys.readouterr().out.strip()

    first = start(*ADDRESSES)
    # The fingerprint as another library of hashes gives it.
    der = ssl.PEM_cert_to_DER_cert(fetched.read_text())
    assert bytes.fromhex(first.replace(":", "")) == hashlib.sha256(der).digest()
    assert start(*ADDRESSES) == first
    moved = start("192.0.2.9", "127.0.0.1")
    assert moved != first
    (made / "server.key").write_text("damaged")
    mended = start("192.0.2.9", "127.0.0.1")
    assert mended != moved
    monkeypatch.setattr(certificate, "RENEW_DAYS", certificate.DAYS)
    assert start("192.0.2.9", "127.0.0.1") != mended


def test_without_the_option_it_is_this_machine_only(tmp_path: Path) -> None:
    site = Site(8765, None, tmp_path)
    assert site.gunicorn_words() == ["--bind=127.0.0.1:8765"]
    assert site.environment() == {}
    assert site.words("") == "Lotwright: http://127.0.0.1:8765/\n"


def test_with_the_option_the_product_knows_its_addresses(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    site = Site(8765, ("192.0.2.7",), tmp_path)
    assert site.bind == EVERYWHERE
    assert site.gunicorn_words()[1:] == [f"--certfile={tmp_path}/server.crt", f"--keyfile={tmp_path}/server.key"]
    for name, value in site.environment().items():
        monkeypatch.setenv(name, value)
    assert env.env_bool("HTTPS") is True
    assert env.env_int("HSTS_DAYS", 730) == 0
    assert env.env_list("ALLOWED_HOSTS") == ["192.0.2.7", "127.0.0.1", "localhost"]
    assert "https://192.0.2.7:8765" in env.env_list("TRUSTED_ORIGINS")
    said = site.words("AB:" * 31 + "AB")
    assert "  https://192.0.2.7:8765/\n" in said
    assert "https://192.0.2.7:8765/static/demo-authority.crt" in said
    assert said.count("AB:") == 30  # two lines of sixteen pairs
    assert CAUTION in said
    alone = Site(8765, (), tmp_path).words("")
    assert "This machine has no address in a network: connect it and start again." in alone


def test_own_addresses_can_be_had_on_this_machine() -> None:
    for address in own_addresses():
        assert not address.startswith("127.")
        with socket.socket() as trial:
            trial.bind((address, 0))


@pytest.mark.parametrize(
    ("words", "network", "kept_in", "told"),
    [([], False, ".", ()), (["--network"], True, ".", ()), (["--season"], False, "season", ("--season",))],
)
def test_the_options(
    words: list[str],
    network: bool,
    kept_in: str,
    told: tuple[str, ...],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[object] = []
    monkeypatch.setattr(run_demo, "demonstrate", lambda *given: asked.extend(given))
    monkeypatch.setattr(run_demo, "raise_on_signals", lambda: None)
    monkeypatch.setattr(run_demo, "own_addresses", lambda: ("192.0.2.7",))
    monkeypatch.setattr(os, "umask", lambda _mode: 0)
    monkeypatch.setattr(sys, "argv", ["deploy/demo", "--port=8799", *words])
    monkeypatch.setenv("DATA_FOLDER", str(tmp_path))
    assert run_demo.main() == 0
    folder = tmp_path / kept_in
    assert asked == [Site(8799, ("192.0.2.7",) if network else None, folder / "network"), folder, told]


def test_help_says_what_the_option_does(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr(sys, "argv", ["deploy/demo", "--help"])
    with pytest.raises(SystemExit) as ended:
        run_demo.main()
    assert ended.value.code == 0
    said = " ".join(capsys.readouterr().out.split())
    for words in ("--network", "over https", "phone's camera", "only in a network that you trust"):
        assert words in said


def test_a_port_taken_on_one_address_is_not_free_everywhere() -> None:
    with socket.socket() as other:
        other.bind((LOOPBACK, 0))
        other.listen()
        with pytest.raises(StopError, match=r"on 0\.0\.0\.0 is taken"):
            run_demo.check_port(other.getsockname()[1], EVERYWHERE)
