"""Which addresses messages may go to.

Whoever may set up a webhook must not reach what only the service's own network reaches.
"""

import ipaddress
from collections.abc import Iterable, Iterator
from ipaddress import IPv4Address, IPv6Address, IPv6Network
from typing import Final, TypeAlias

Address: TypeAlias = IPv4Address | IPv6Address

_NAT64: Final = IPv6Network("64:ff9b::/96")
_NAT64_LOCAL: Final = IPv6Network("64:ff9b:1::/48")


class AllowedAddresses:
    """Public addresses, and networks that the operator names."""

    def __init__(self, networks: Iterable[str] = ()) -> None:
        """``networks``: such as ``10.1.0.0/16``.

        Raises:
            ValueError: one is no address and no network.
        """
        self._networks = tuple(ipaddress.ip_network(each, strict=False) for each in networks)

    def allow(self, text: str) -> bool:
        """Whether messages may go to an address; text that is none is refused."""
        try:
            # Without the zone of a link-local address.
            address = ipaddress.ip_address(text.partition("%")[0])
        except ValueError:
            return False
        return all(self._allowed(each) for each in _all_meant(address))

    def _allowed(self, address: Address) -> bool:
        if any(address in network for network in self._networks):
            return True
        return address.is_global and not address.is_multicast and not address.is_reserved


def is_address(host: str) -> bool:
    """Whether the host of a URL is an address, and no name."""
    try:
        ipaddress.ip_address(host.partition("%")[0])
    except ValueError:
        return False
    return True


def _all_meant(address: Address) -> Iterator[Address]:
    """The address, and that of IPv4 which it leads to; of a mapped one only the latter."""
    if isinstance(address, IPv4Address):
        yield address
        return
    if (mapped := address.ipv4_mapped) is not None:
        yield mapped
        return
    yield from _tunnelled(address)


def _tunnelled(address: IPv6Address) -> Iterator[Address]:
    if address in _NAT64 or address in _NAT64_LOCAL:
        yield IPv4Address(int(address) & 0xFFFF_FFFF)
        return
    yield address
    if address.sixtofour is not None:
        yield address.sixtofour
    if address.teredo is not None:
        yield from address.teredo
