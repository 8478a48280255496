"""Payloads cut into frames as ISO 15765-2 has it, for classic CAN with 8 bytes in every frame."""

from __future__ import annotations

from collections.abc import Iterator

FRAME = 8
FLOW_CONTROL = bytes((0x30, 0x00, 0x00))  # go on, all at once, no pause


def segments(payload: bytes, padding: int = 0x00) -> list[bytes]:
    """The frames of one payload: a single frame, or a first frame and consecutive ones numbered 1 to 15, 0, 1 …"""
    if len(payload) < FRAME:
        return [padded(bytes((len(payload),)) + payload, padding)]
    first = (0x1000 | len(payload)).to_bytes(2, "big") + payload[:6]
    return [first, *(padded(bytes((0x20 | number & 0x0F,)) + part, padding) for number, part in _parts(payload[6:]))]


def flow_control(padding: int = 0x00) -> bytes:
    """What a tester sends after a first frame."""
    return padded(FLOW_CONTROL, padding)


def padded(data: bytes, padding: int = 0x00) -> bytes:
    """Filled up to the 8 bytes that ISO 15765-4 wants of every diagnostic frame."""
    return data.ljust(FRAME, bytes((padding,)))


def _parts(rest: bytes) -> Iterator[tuple[int, bytes]]:
    for number, at in enumerate(range(0, len(rest), FRAME - 1), start=1):
        yield number, rest[at : at + FRAME - 1]
