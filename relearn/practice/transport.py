"""ISO 15765-2 and -4 as they lie on the bus: payloads cut into frames, and which identifiers they travel under."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from relearn.capture.keep import ANSWERS_11, ANSWERS_29, FUNCTIONAL_11, FUNCTIONAL_29, REQUESTS_11, REQUESTS_29
from relearn.practice.scenario import Module

FRAME = 8
FLOW_CONTROL = bytes((0x30, 0x00, 0x00))  # go on, all at once, no pause


@dataclass(frozen=True, order=True)
class Sent:
    """One frame on the bus, in microseconds from the start. Ordered by time."""

    time_us: int
    identifier: int
    extended: bool
    data: bytes


def functional(extended: bool) -> int:
    """The identifier that asks every module."""
    return FUNCTIONAL_29 if extended else FUNCTIONAL_11


def request_to(module: Module, extended: bool) -> int:
    """The identifier that asks one module."""
    return REQUESTS_29 | module.address << 8 if extended else REQUESTS_11[module.number]


def answer_of(module: Module, extended: bool) -> int:
    """The identifier under which it answers."""
    return ANSWERS_29 | module.address if extended else ANSWERS_11[module.number]


def frames(payload: bytes, padding: int) -> list[bytes]:
    """The frames of one payload: a single frame, or a first frame and consecutive ones numbered 1 to 15, 0, 1 …"""
    if len(payload) < FRAME:
        return [_padded(bytes((len(payload),)) + payload, padding)]
    first = (0x1000 | len(payload)).to_bytes(2, "big") + payload[:6]
    return [first, *(_padded(bytes((0x20 | number & 0x0F,)) + part, padding) for number, part in _parts(payload[6:]))]


def flow_control(padding: int) -> bytes:
    """What a tester sends after a first frame."""
    return _padded(FLOW_CONTROL, padding)


def _parts(rest: bytes) -> Iterator[tuple[int, bytes]]:
    for number, at in enumerate(range(0, len(rest), FRAME - 1), start=1):
        yield number, rest[at : at + FRAME - 1]


def _padded(data: bytes, padding: int) -> bytes:
    return data.ljust(FRAME, bytes((padding,)))
