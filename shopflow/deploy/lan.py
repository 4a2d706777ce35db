"""The shop on its own network (make run LAN=1): names, certificates in files, and what the web server is told.

In the data folder, readable by its owner only: `lan/authority-key.pem` (whoever has it can pose as this shop's server),
`lan/authority.pem` (what tablets install), `lan/server.pem` (key and certificate, renewed by itself).
"""

from __future__ import annotations

import os
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from urllib.parse import urlsplit

from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec

from shopflow.deploy import addresses, authority
from shopflow.deploy.authority import Pair
from shopflow.deploy.refusal import Refused

FIRST_PORT = 8443
HOW_TO_START_OVER = (
    "Remove the folder lan in the data folder: the next start makes a new authority, "
    "to be installed on every device again"
)


@dataclass(frozen=True)
class Lan:
    """folder: where the certificates are kept. bind: the address listened on. typed_url: a person's SITE_URL, or ""."""

    folder: Path
    bind: str
    typed_url: str = ""

    @property
    def wanted_port(self) -> str:
        """The port in the address that a person typed, where no PORT was asked for."""
        try:
            typed = urlsplit(self.typed_url)
            return str(typed.port or 443) if typed.hostname else ""
        except ValueError:
            raise Refused(f"SITE_URL is {self.typed_url!r}; write it like https://shop.local:8443") from None

    @property
    def typed_host(self) -> str:
        if not self.typed_url:
            return ""
        typed = urlsplit(self.typed_url)
        host = (typed.hostname or "").lower()
        if typed.scheme != "https" or not (addresses.is_address(host) or addresses.DNS_NAME.fullmatch(host)):
            raise Refused(f"SITE_URL is {self.typed_url!r}; with LAN=1 write it like https://shop.local:8443")
        return host

    @property
    def is_everywhere(self) -> bool:
        return self.bind == addresses.EVERYWHERE

    def wanted_names(self) -> list[str]:
        """Every name under which this machine is found now, the person's own among them."""
        names = addresses.served(self.bind)
        return names + [host for host in [self.typed_host] if host and host not in names]

    @cached_property
    def authority(self) -> Pair:
        """The authority of this data folder; made at the first start and kept, since tablets trust this very one."""
        key_file, file = self.folder / "authority-key.pem", self.authority_file
        if key_file.exists() and file.exists():
            return Pair(_read_key(key_file), _read_certificate(file))
        made = authority.make_authority(self.wanted_names(), now=_now())
        _write(key_file, made.key_pem)
        _write(file, made.certificate_pem)
        return made

    @property
    def authority_file(self) -> Path:
        return self.folder / "authority.pem"

    @property
    def server_file(self) -> Path:
        return self.folder / "server.pem"

    @property
    def fingerprint(self) -> str:
        return "\n".join(f"  {line}" for line in authority.fingerprint_lines(self.authority.certificate))

    def names(self) -> list[str]:
        """The wanted names that the authority may vouch for; a person's own that it may not is refused, not dropped."""
        within = [name for name in self.wanted_names() if authority.may_vouch_for(self.authority.certificate, name)]
        for typed in filter(None, (self.typed_host, "" if self.is_everywhere else self.bind)):
            if typed not in within:
                raise Refused(
                    f"the shop's certificate authority was made before {typed} was asked for, and may not vouch for "
                    f"it. Take another address, or start over. {HOW_TO_START_OVER}"
                )
        return within

    def renew(self, *, now: datetime | None = None) -> str:
        """Issue the server's certificate anew where it is due; the reason, or "" where nothing was done.

        The web server reads the file for each connection, so that a new certificate needs no new start.
        """
        now, names = now or _now(), self.names()
        if self.server_file.exists():
            due = authority.why_due(_read_certificate(self.server_file), self.authority.certificate, names, now=now)
        else:
            due = "there was none"
        if due:
            made = authority.issue(self.authority, names, now=now)
            _write(self.server_file, made.key_pem + made.certificate_pem)
        return due

    def certified_names(self) -> list[str]:
        return authority.names_in(_read_certificate(self.server_file))

    def address(self, port: int) -> str:
        """What people open and QR codes carry: what a person typed, else the address on the network.

        A number, not a name: each device finds it, while a name needs a name server or multicast DNS on both sides.
        """
        return self.typed_url.rstrip("/") or f"https://{self.first_host}:{port}"

    @property
    def first_host(self) -> str:
        on_network = addresses.of_the_network() if self.is_everywhere else [self.bind]
        if not on_network:
            raise Refused(
                "this machine has no address on a private network that tablets could open. Connect it, name the "
                "address to listen on (make run LAN=1 BIND=ADDRESS), or start it without LAN=1"
            )
        return "localhost" if on_network[0] == "127.0.0.1" else on_network[0]

    def ends_soon(self) -> bool:
        return self.authority.certificate.not_valid_after_utc - _now() < authority.CERTIFICATE_LASTS


def _now() -> datetime:
    return datetime.now(UTC)


def _write(path: Path, content: bytes) -> None:
    """Put a whole file in place at once, readable by its owner only: a server may read it at any moment."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    descriptor, name = tempfile.mkstemp(dir=path.parent)  # made with mode 0600
    with os.fdopen(descriptor, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    os.replace(name, path)


def _read_key(path: Path) -> ec.EllipticCurvePrivateKey:
    try:
        key = serialization.load_pem_private_key(path.read_bytes(), password=None)
    except ValueError as error:
        raise _unreadable(path) from error
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise _unreadable(path)
    return key


def _read_certificate(path: Path) -> x509.Certificate:
    try:
        return x509.load_pem_x509_certificate(path.read_bytes())
    except ValueError as error:
        raise _unreadable(path) from error


def _unreadable(path: Path) -> Refused:
    return Refused(
        f"{path} cannot be read as what it should be. Put it back from your copy, or start over. {HOW_TO_START_OVER}"
    )
