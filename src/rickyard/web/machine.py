"""What this computer calls itself and where it stands on its networks."""

from __future__ import annotations

import ipaddress
import socket

import psutil

from rickyard.web.authority import PRIVATE_NETWORKS, Address


def hostname() -> str:
    return socket.gethostname()


def addresses() -> tuple[Address, ...]:
    """The addresses of every network card that is up, loopback included, in a steady order."""
    up = {name for name, state in psutil.net_if_stats().items() if state.isup}
    found: set[Address] = {ipaddress.ip_address("127.0.0.1"), ipaddress.ip_address("::1")}
    for name, entries in psutil.net_if_addrs().items():
        for entry in entries:
            if name in up and entry.family in (socket.AF_INET, socket.AF_INET6):
                # fe80::1%eth0: the part behind the sign is this computer's own name of the card.
                found.add(ipaddress.ip_address(entry.address.partition("%")[0]))
    return tuple(sorted(found, key=lambda address: (address.version, int(address))))


def likely_address() -> Address | None:
    """The private address under which other machines most likely reach this one; None if there is none.

    The one that speaks to the rest of the world stands first; a computer without a way out has its first card's.
    """
    private = [item for item in addresses() if is_private(item) and not item.is_loopback]
    outward = _outward()
    if outward in private:
        return outward
    # A self-given address (169.254) only where there is nothing better.
    in_order = sorted(private, key=lambda item: (item.version, item.is_link_local))
    return next((item for item in in_order if item.version == 4), None)


def is_private(address: Address) -> bool:
    return any(address in network for network in PRIVATE_NETWORKS)


def is_loopback(host: str) -> bool:
    """Whether only this computer reaches what listens on a host; OSError if the name leads nowhere."""
    found = socket.getaddrinfo(host, None, type=socket.SOCK_STREAM)
    return all(ipaddress.ip_address(str(entry[4][0]).partition("%")[0]).is_loopback for entry in found)


def _outward() -> Address | None:
    """The address of the card that leads out. Choosing a way for datagrams sends nothing."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # An address for documentation, RFC 5737; nobody is there.
            probe.connect(("198.51.100.1", 9))
        except OSError:
            return None
        return ipaddress.ip_address(probe.getsockname()[0])
