"""Which machines may be called: the address that is connected to is judged, never the text of an URL.

Closed unless it is a public unicast address. The lists of Python's `ipaddress` differ between versions (3.11.7 takes
192.0.0.8, 224.0.0.1 and the translated forms of 127.0.0.1 for public), so what must not be called stands here as well.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Iterable
from dataclasses import dataclass

Address = ipaddress.IPv4Address | ipaddress.IPv6Address
Network = ipaddress.IPv4Network | ipaddress.IPv6Network

USUAL_PORTS = frozenset({80, 443})

_CLOSED_4 = (
    *("0.0.0.0/8", "100.64.0.0/10", "127.0.0.0/8", "169.254.0.0/16", "192.0.0.0/24", "192.0.2.0/24", "192.88.99.0/24"),
    *("198.18.0.0/15", "198.51.100.0/24", "203.0.113.0/24", "224.0.0.0/4", "240.0.0.0/4"),
)
_CLOSED_6 = (
    *("::/96", "100::/64", "2001::/23", "2001:db8::/32", "3fff::/20", "5f00::/16", "fc00::/7", "fe80::/9", "ff00::/8"),
)
"""Not for general use; `ipaddress` itself knows the private networks of RFC 1918. Source: IANA IPv4 and IPv6
special-purpose address registries (RFC 6890); RFC 3879 for fec0::/10, RFC 5771 and RFC 4291 for multicast."""
_NAT64 = ("64:ff9b::/96", "64:ff9b:1::/48")
"""RFC 6052 and RFC 8215: the last 32 bits are an IPv4 address."""


@dataclass(frozen=True, slots=True)
class Opening:
    """A network that the settings open, at one port or (0) at any."""

    network: Network
    port: int = 0

    @classmethod
    def of(cls, network: str, port: int = 0) -> Opening:
        """From text such as `127.0.0.1` or `fd00::/8`. Raises ValueError."""
        return cls(ipaddress.ip_network(network, strict=False), port)


def is_public(address: Address) -> bool:
    """True for a unicast address of the public internet; one that wraps an IPv4 address is judged by both."""
    inner = _wrapped(address)
    if inner is not None:
        return is_public(inner)
    closed = _CLOSED_4 if address.version == 4 else _CLOSED_6
    if any(address in ipaddress.ip_network(network) for network in closed):
        return False
    return address.is_global and not address.is_multicast and not address.is_reserved


def may_call(
    text: str, port: int, *, openings: Iterable[Opening] = (), ports: Iterable[int] = (), vouched_for: bool = False
) -> bool:
    """Whether that address and port may be connected to.

    text: a numeric address as the resolver gave it. openings: of the settings. ports: beside 80 and 443, for public
    addresses. vouched_for: somebody said of this very calendar that it lies in a private network; then any address at
    the port of its URL will do, but no multicast and no unspecified one.
    """
    try:
        address = ipaddress.ip_address(text.partition("%")[0])
    except ValueError:
        return False
    plain = address if not isinstance(address, ipaddress.IPv6Address) else address.ipv4_mapped or address
    if any(plain in each.network and each.port in (0, port) for each in openings):
        return True
    if vouched_for:
        return not (plain.is_multicast or plain.is_unspecified)
    return is_public(address) and (port in USUAL_PORTS or port in set(ports))


def _wrapped(address: Address) -> ipaddress.IPv4Address | None:
    """The IPv4 address that a translated or tunnelled one leads to."""
    if not isinstance(address, ipaddress.IPv6Address):
        return None
    if address.ipv4_mapped is not None:
        return address.ipv4_mapped
    if address.sixtofour is not None:
        return address.sixtofour
    if any(address in ipaddress.ip_network(network) for network in _NAT64):
        return ipaddress.IPv4Address(int(address) & 0xFFFFFFFF)
    return None
