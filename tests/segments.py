"""Frames of a segmented message for the tests: written by hand, or split by the frame layout of ISO 15765-2."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from relearn.capture.frames import Frames
from relearn.isotp import Messages

Sent = tuple[int, bytes]  # identifier, data
STEP_S = 0.001
FD_SIZES = (8, 12, 16, 20, 24, 32, 48, 64)


def capture(sent: Sequence[Sent], times_s: Sequence[float] | None = None, buses: Sequence[int] | None = None) -> Frames:
    count = len(sent)
    data = np.zeros((count, 64 if any(len(one) > 8 for _, one in sent) else 8), np.uint8)
    for row, (_, one) in enumerate(sent):
        data[row, : len(one)] = list(one)
    identifier = np.array([one for one, _ in sent], np.uint32)
    times = np.array([STEP_S * row for row in range(count)] if times_s is None else times_s, np.float64)
    return Frames(
        times,
        np.arange(1, count + 1),
        np.array(buses or [0] * count, np.uint8),
        identifier,
        identifier > 0x7FF,
        np.array([len(one) for _, one in sent], np.uint8),
        data,
    )


def lines(text: str) -> list[Sent]:
    """'7E8 03 41 0D 00' a line."""
    rows = [line.split() for line in text.strip().splitlines()]
    return [(int(row[0], 16), bytes.fromhex("".join(row[1:]))) for row in rows]


def payloads(messages: Messages) -> list[tuple[int, bytes]]:
    return [(int(messages.identifier[row]), messages.bytes_at(row)) for row in range(len(messages))]


def split(payload: bytes, size: int = 8, pad: int | None = 0xAA) -> list[bytes]:
    """Frames of one message, by the layout tables of ISO 15765-2 for normal addressing."""
    if len(payload) <= 7:
        return [_padded(bytes([len(payload)]) + payload, 8, pad)]
    if size > 8 and len(payload) <= size - 2:
        return [_padded(bytes([0, len(payload)]) + payload, size, pad)]
    count = len(payload)
    long = bytes([0x10, 0]) + count.to_bytes(4, "big")
    head = bytes([0x10 | count >> 8, count & 0xFF]) if count <= 4095 else long
    frames = [head + payload[: size - len(head)]]
    rest = payload[size - len(head) :]
    for number, at in enumerate(range(0, len(rest), size - 1), 1):
        frames.append(_padded(bytes([0x20 | number % 16]) + rest[at : at + size - 1], size, pad))
    return frames


def _padded(data: bytes, size: int, pad: int | None) -> bytes:
    """Up to `size` bytes with a pad byte; else only up to the next length that a frame can have."""
    if pad is None:
        size = len(data) if len(data) <= 8 else min(one for one in FD_SIZES if one >= len(data))
    return data.ljust(size, bytes([pad or 0]))
