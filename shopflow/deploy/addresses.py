"""Under which names and addresses devices on the shop's network find this machine. IPv4 only."""

import ipaddress
import re
import socket

import psutil

EVERYWHERE = "0.0.0.0"
BRIDGES = ("docker", "veth", "br-", "virbr", "cni", "lxc", "podman")
"""Interfaces that lead to containers and virtual machines on this one, never to a tablet."""
LOCAL_NETWORKS = tuple(
    ipaddress.ip_network(network)
    for network in (
        "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16",  # RFC 1918
        "100.64.0.0/10", "127.0.0.0/8", "169.254.0.0/16",  # RFC 6598, RFC 1122, RFC 3927
        "fc00::/7", "fe80::/10", "::1/128",  # RFC 4193, RFC 4291
    )
)  # fmt: skip
"""Networks in which no host of the public internet has its address."""
LABEL = r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?"
DNS_NAME = re.compile(rf"{LABEL}(\.{LABEL})*")


def is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def of_the_network() -> list[str]:
    """The private IPv4 addresses of the interfaces that are up, the one with the way out first.

    Public addresses are left out: a shop with one wants a certificate from a public authority, and a proxy in front.
    """
    up = {name for name, state in psutil.net_if_stats().items() if state.isup and not name.startswith(BRIDGES)}
    found = [
        entry.address
        for name, entries in psutil.net_if_addrs().items()
        for entry in entries
        if name in up and entry.family == socket.AF_INET and _is_of_a_shop(entry.address)
    ]
    first = _with_the_way_out()
    return sorted(set(found), key=lambda address: (address != first, ipaddress.ip_address(address)))


def _is_of_a_shop(text: str) -> bool:
    address = ipaddress.ip_address(text)
    is_local = any(address in network for network in LOCAL_NETWORKS)
    return is_local and not address.is_loopback and not address.is_link_local


def _with_the_way_out() -> str:
    """The address from which this machine reaches others; connecting a datagram socket sends nothing."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # TEST-NET-1 (RFC 5737): routed like any other, answered by nobody
        except OSError:
            return ""
        address: str = probe.getsockname()[0]
        return address


def host_names() -> list[str]:
    """This machine's name, as DNS knows it, alone, and as multicast DNS announces it (RFC 6762: under .local)."""
    whole = socket.gethostname().lower().rstrip(".")
    alone = whole.partition(".")[0]
    return [name for name in dict.fromkeys([whole, alone, f"{alone}.local"]) if DNS_NAME.fullmatch(name)]


def served(bind: str) -> list[str]:
    """All names and addresses of a server that listens on `bind`: what its certificate has to say."""
    addresses = of_the_network() if bind == EVERYWHERE else [bind]
    return list(dict.fromkeys(["localhost", "127.0.0.1", *host_names(), *addresses]))
