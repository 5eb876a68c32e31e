"""Where the demo is served: on this machine only, or with `deploy/demo --network` over TLS to the local network too."""

from __future__ import annotations

import contextlib
import fcntl
import http.client
import ipaddress
import socket
import ssl
import struct
from dataclasses import dataclass
from pathlib import Path

LOOPBACK = "127.0.0.1"
EVERYWHERE = "0.0.0.0"  # noqa: S104 - what --network asks for
AUTHORITY, SERVER, KEY = "authority.crt", "server.crt", "server.key"
FETCHED = "demo-authority.crt"  # among the static files, for the phone
ADDRESS_OF_INTERFACE = 0x8915  # SIOCGIFADDR, netdevice(7)

CAUTION = (
    "Caution: for trying out, in a network that you trust. Everybody in it can open this demo, and its badges, PINs\n"
    "and passwords are public: they stand below and in the program. Never use it for a plant's own records."
)


@dataclass(frozen=True)
class Site:
    """Where it is served: the port; the machine's addresses in its networks, None for this machine only; the folder of
    the certificate.
    """

    port: int
    addresses: tuple[str, ...] | None
    folder: Path

    @property
    def bind(self) -> str:
        """The address that the web listens on."""
        return LOOPBACK if self.addresses is None else EVERYWHERE

    @property
    def named(self) -> tuple[str, ...]:
        """The addresses that the certificate names."""
        return (*(self.addresses or ()), LOOPBACK)

    @property
    def urls(self) -> list[str]:
        """The addresses to open, this machine's own last."""
        scheme = "http" if self.addresses is None else "https"
        return [f"{scheme}://{one}:{self.port}/" for one in self.named]

    def environment(self) -> dict[str, str]:
        """The product's settings for a web that is reached over TLS; none when it is for this machine only."""
        if self.addresses is None:
            return {}
        hosts = (*self.named, "localhost")
        return {
            "HTTPS": "yes",
            # Kept by a browser, it would shut every other program on this machine's localhost that has no TLS.
            "HSTS_DAYS": "0",
            "ALLOWED_HOSTS": ",".join(hosts),
            "TRUSTED_ORIGINS": ",".join(f"https://{host}:{self.port}" for host in hosts),
        }

    def gunicorn_words(self) -> list[str]:
        """What gunicorn is told about where and how it listens."""
        words = [f"--bind={self.bind}:{self.port}"]
        if self.addresses is not None:
            words += [f"--certfile={self.folder / SERVER}", f"--keyfile={self.folder / KEY}"]
        return words

    def connection(self) -> http.client.HTTPConnection:
        """A connection to the web from this machine; over TLS it holds the certificate against the authority."""
        if self.addresses is None:
            return http.client.HTTPConnection(LOOPBACK, self.port, timeout=20)
        context = ssl.create_default_context(cafile=self.folder / AUTHORITY)
        return http.client.HTTPSConnection(LOOPBACK, self.port, timeout=20, context=context)

    def words(self, fingerprint: str) -> str:
        """What the person who started it reads: where it is, how a phone comes to trust it, the caution."""
        if self.addresses is None:
            return f"Lotwright: {self.urls[0]}\n"
        lines = ["Lotwright:", *(f"  {url}" for url in self.urls)]
        if not self.addresses:
            return "\n".join(
                (*lines, "This machine has no address in a network: connect it and start again.", "", CAUTION, "")
            )
        lines += [
            "",
            f"On a phone in the same network open {self.urls[0]} - it warns, as nobody it knows has signed for this",
            "machine. To trust it, get its authority's certificate, past the warning, from",
            f"  {self.urls[0]}static/{FETCHED}",
            "and install it as a CA certificate (Android: in the settings for security; iPhone: the profile in",
            "Settings, then switch it on under General, About, Certificate Trust Settings). Before you trust",
            "it compare its SHA-256 fingerprint:",
            f"  {fingerprint[:47]}",
            f"  {fingerprint[48:]}",
            "It vouches for this machine only and for some weeks; take it off the phone when you have done. If the",
            f"page does not open, a firewall on this machine may keep port {self.port} closed.",
            "",
            CAUTION,
            "",
        ]
        return "\n".join(lines)


def own_addresses() -> tuple[str, ...]:
    """This machine's IPv4 addresses besides its loopback, the one on the way to other networks first; sends nothing."""
    found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        for _, name in socket.if_nameindex():
            # Not every system has this question, and not every interface an address.
            with contextlib.suppress(OSError):
                asked = struct.pack("256s", name.encode()[:15])
                found.append(socket.inet_ntoa(fcntl.ioctl(probe.fileno(), ADDRESS_OF_INTERFACE, asked)[20:24]))
        with contextlib.suppress(OSError):
            # Connecting a datagram socket only chooses the way; the address is one of those for documents (RFC 5737).
            probe.connect(("203.0.113.1", 9))
            found.insert(0, probe.getsockname()[0])
    usable = [one for one in found if not ipaddress.ip_address(one).is_loopback and one != EVERYWHERE]
    return tuple(dict.fromkeys(usable))
