"""HTTPS by the yard's own authority: what is shown to browsers, kept fresh while the server runs."""

from __future__ import annotations

import ipaddress
import ssl
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from urllib.parse import urlsplit

from rickyard.errors import InputError
from rickyard.text import T_, Text
from rickyard.web import machine
from rickyard.web.authority import (
    Address,
    Authority,
    ServerCertificate,
    groups_of,
    host_name,
    open_authority,
    open_server_certificate,
    own_names,
)

# How often the addresses and the certificate's end are looked at while the server runs [s].
LOOK_SECONDS = 60.0


def _now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True)
class Door:
    """What a page needs to bring a phone: where to take the certificate, what to compare, where to go then."""

    yard_url: str
    start_url: str
    certificate_url: str
    authority_name: str
    fingerprint: tuple[str, ...]
    # The last day of the certificate before this one, while phones may still hold that one alone.
    earlier_until: date | None


class Https:
    """The authority, the server's certificate, and the TLS context that shows it.

    Parameters
    ----------
    folder
        Where both are kept; made if it is not there.
    host
        The address that is listened on; `0.0.0.0` or `::` for all.
    names
        Host names beside the machine's own.
    port, start_port
        Of the application and of the start page.
    clock
        The present moment, UTC.

    Raises
    ------
    InputError
        If the folder is of no use, or if a name or the address is none that the authority may speak for.
    """

    def __init__(
        self,
        folder: Path,
        *,
        host: str,
        names: Sequence[str] = (),
        port: int,
        start_port: int,
        clock: Callable[[], datetime] = _now,
    ) -> None:
        self.folder, self.host, self.port, self.start_port = folder, host, port, start_port
        self.names = tuple(host_name(name) for name in names)
        self._clock = clock
        self._bound = _address(host)
        self.authority = self._open_authority()
        self._check_wanted()
        self.certificate = self._open_certificate()
        self.context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        self.context.minimum_version = ssl.TLSVersion.TLSv1_2
        self.context.set_alpn_protocols(["http/1.1"])
        self.context.load_cert_chain(self.certificate.path)

    def refresh(self) -> bool:
        """Makes another certificate if addresses or time ask for it; new connections get it. Whether it did."""
        self.authority = self._open_authority()
        before = self.certificate.certificate
        self.certificate = self._open_certificate()
        if self.certificate.certificate == before:
            return False
        self.context.load_cert_chain(self.certificate.path)
        return True

    def door(self, asked: str = "") -> Door:
        """Where a phone goes; by the host under which the asker came, if a phone can come by that one too."""
        host = self.reachable(asked)
        start = f"http://{_in_address(host)}:{self.start_port}/"
        earlier = self.authority.earlier
        return Door(
            yard_url=f"https://{_in_address(host)}:{self.port}/",
            start_url=start,
            certificate_url=f"{start}rickyard.crt",
            authority_name=self.authority.name,
            fingerprint=groups_of(self.authority.sha256),
            earlier_until=earlier.not_valid_after_utc.date() if earlier is not None else None,
        )

    def reachable(self, asked: str = "") -> str:
        """The host for a phone's address: the one asked for if it will do, a given name, the likely address."""
        name = (urlsplit(f"//{asked}").hostname or "") if asked else ""
        known = (*self.certificate.hosts, *map(str, self.certificate.addresses))
        address = _address(name)
        if name in known and name != "localhost" and not (address is not None and address.is_loopback):
            return name
        if self.names:
            return self.names[0]
        if self._bound is not None and not self._bound.is_unspecified:
            return self.host
        likely = machine.likely_address()
        return str(likely) if likely is not None else "127.0.0.1"

    def notes(self) -> list[Text]:
        """What the person who starts the server should know."""
        found = []
        if not any(not address.is_loopback for address in self.certificate.addresses):
            found.append(
                T_(
                    "No address of this computer is one of a private network, so no phone can come over HTTPS yet. "
                    "Join the yard's network; the certificate follows within a minute."
                )
            )
        names = [name for name in self.certificate.left_out if _address(name) is None]
        if names:
            found.append(
                T_(
                    "The authority in {folder} may not speak for {names}; use another name or the address.",
                    folder=str(self.folder),
                    names=", ".join(names),
                )
            )
        if self.authority.earlier is not None:
            found.append(
                T_(
                    "The authority's certificate was renewed. Each phone must take the new one from the start page "
                    "before {day}; until then both hold.",
                    day=self.authority.earlier.not_valid_after_utc.date(),
                )
            )
        return found

    def _open_authority(self) -> Authority:
        hostname = machine.hostname()
        names = (*own_names(hostname), *self.names)
        return open_authority(self.folder, hostname=hostname, names=names, now=self._clock())

    def _open_certificate(self) -> ServerCertificate:
        hosts = (*own_names(machine.hostname()), *self.names)
        if self._bound is None or self._bound.is_unspecified:
            addresses: tuple[Address, ...] = machine.addresses()
        else:
            addresses = (self._bound,)
        return open_server_certificate(
            self.folder, self.authority, hosts=hosts, addresses=addresses, now=self._clock()
        )

    def _check_wanted(self) -> None:
        for name in self.names:
            if not self.authority.covers(name):
                raise InputError(
                    "name",
                    wanted=T_("a name that the authority in {folder} may speak for", folder=str(self.folder)),
                    got=name,
                    next_move=T_(
                        "A name under .local always is. For this one, move the folder away, start again, and "
                        "install the new certificate on each phone."
                    ),
                )
        bound = self._bound
        if bound is not None and not bound.is_unspecified and not self.authority.covers(bound):
            raise InputError(
                "host",
                wanted=T_("an address of a private network, or 0.0.0.0 for all"),
                got=self.host,
                next_move=T_(
                    "The yard's own authority speaks for private networks only. For a public address take a "
                    "reverse proxy with a certificate of a public authority; docs/phone.md shows how."
                ),
            )


def _address(host: str) -> Address | None:
    try:
        return ipaddress.ip_address(host)
    except ValueError:
        return None


def _in_address(host: str) -> str:
    return f"[{host}]" if ":" in host else host
