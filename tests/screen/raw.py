"""Requests as no browser would make them, and the machine's addresses and ports."""

from __future__ import annotations

import http.client
import socket
from collections.abc import Mapping
from typing import NamedTuple

HERE = "127.0.0.1"
UPGRADE = {
    "Connection": "Upgrade",
    "Upgrade": "websocket",
    "Sec-WebSocket-Version": "13",
    "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==",  # RFC 6455, section 1.3
}
SOCKET = "/_nicegui_ws/socket.io/?EIO=4&transport=websocket"
POLLING = "/_nicegui_ws/socket.io/?EIO=4&transport=polling"
WAIT_S = 30.0


class Answer(NamedTuple):
    status: int
    text: str
    headers: Mapping[str, str]


def asked(host: str, port: int, path: str, headers: Mapping[str, str] | None = None, method: str = "GET") -> Answer:
    """One request, its path word for word; a Host among the headers takes the place of the right one."""
    connection = http.client.HTTPConnection(host, port, timeout=WAIT_S)
    given = dict(headers or {})
    try:
        connection.putrequest(method, path, skip_host="Host" in given)
        for name, value in given.items():
            connection.putheader(name, value)
        connection.endheaders()
        answer = connection.getresponse()
        body = b"" if answer.status == http.client.SWITCHING_PROTOCOLS else answer.read()
        return Answer(answer.status, body.decode("utf-8", "replace"), dict(answer.getheaders()))
    finally:
        connection.close()


def own_address() -> str:
    """This machine's address on its network. Nothing is sent: to connect a datagram socket only chooses a route."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as looking:
        try:
            looking.connect(("192.0.2.77", 9))  # of the documentation's network (RFC 5737)
        except OSError as wrong:
            raise AssertionError(
                "these tests need a network address besides the loopback; connect a network"
            ) from wrong
        return str(looking.getsockname()[0])


def free_udp_port() -> int:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as taken:
        taken.bind(("", 0))
        return int(taken.getsockname()[1])
