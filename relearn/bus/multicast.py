"""What python-can's udp_multicast leaves open: a port of each group's own, and frames that stay on this machine.

Linux hands every frame that comes to a port to all who listen on that port, whichever group they joined; only by their
ports are two groups two buses.
"""

from __future__ import annotations

from collections.abc import Mapping
from ipaddress import ip_address
from typing import Any

MULTICAST = "udp_multicast"
FIRST_PORT = 43113  # python-can's own, where no group is named
PORTS = 0x4000  # so that the highest is still a port


def settled(given: Mapping[str, Any], known: Mapping[str, Any]) -> dict[str, Any]:
    """What was given for can.Bus, and for udp_multicast a hop limit of 0 and the port of its group, where neither is
    named. known: the same together with what python-can's configuration file and environment name."""
    if known.get("interface") != MULTICAST:
        return dict(given)
    own: dict[str, Any] = {"hop_limit": 0}
    if known.get("channel") is not None:
        own["port"] = port_of(str(known["channel"]))
    return {**{name: value for name, value in own.items() if name not in known}, **given}


def port_of(group: str) -> int:
    """43113 and the last two bytes of the group's address, IPv4 or IPv6, modulo 16384. ValueError: no address."""
    return FIRST_PORT + int.from_bytes(ip_address(group).packed[-2:], "big") % PORTS
