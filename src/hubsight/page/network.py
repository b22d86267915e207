"""Addresses under which a phone in the same network reaches this computer."""

from __future__ import annotations

import ipaddress

import ifaddr

LOOPBACK = "127.0.0.1"
"""Address of this computer to itself."""


def own_addresses() -> tuple[str, ...]:
    """Return this computer's IPv4 addresses, those of home networks first, without the loopback."""
    found = [
        ipaddress.IPv4Address(ip.ip)
        for adapter in ifaddr.get_adapters()
        for ip in adapter.ips
        if isinstance(ip.ip, str)
    ]
    usable = [a for a in dict.fromkeys(found) if not (a.is_loopback or a.is_link_local or a.is_unspecified)]
    return tuple(str(a) for a in sorted(usable, key=lambda a: (not a.is_private, a)))
