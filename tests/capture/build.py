"""Captures for these tests, written by python-can's writers or by hand, and what python-can's readers make of them."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import can

from relearn.capture.frames import Frames
from relearn.capture.keep import Keep

START_S = 1_700_000_000
EVERY_11 = frozenset(range(0x800))

Seen = tuple[float, int, bool, bytes]
"""Time from the start in seconds, identifier, is it 29-bit, data."""


def answer(time_s: float, value: int = 0, *, identifier: int = 0x7E8, channel: str | int = "can0") -> can.Message:
    """A module's answer to mode 01 parameter 0D, padded."""
    data = bytes((3, 0x41, 0x0D, value, 0xAA, 0xAA, 0xAA, 0xAA))
    return can.Message(
        timestamp=START_S + time_s,
        arbitration_id=identifier,
        is_extended_id=identifier > 0x7FF,
        data=data,
        channel=channel,
    )


def write(path: Path, messages: Iterable[can.Message]) -> Path:
    """The messages in the format of the path's suffix, by python-can."""
    with can.Logger(path) as logger:
        for message in messages:
            logger(message)
    return path


def by_python_can(path: Path) -> list[Seen]:
    """Every data frame that python-can's own reader finds."""
    with can.LogReader(path) as reader:
        messages = [message for message in reader if not message.is_error_frame]
    zero = messages[0].timestamp
    return [
        (message.timestamp - zero, message.arbitration_id, message.is_extended_id, bytes(message.data))
        for message in messages
        if not message.is_remote_frame
    ]


def seen(frames: Frames | None) -> list[Seen]:
    """Frames as tuples."""
    assert frames is not None
    return [
        (
            float(frames.time_s[row]),
            int(frames.identifier[row]),
            bool(frames.extended[row]),
            frames.data[row, : frames.length[row]].tobytes(),
        )
        for row in range(len(frames))
    ]


def keep_all(identifiers_29: Iterable[int] = ()) -> Keep:
    """Every 11-bit identifier, and these of 29 bits."""
    return Keep(EVERY_11, frozenset(identifiers_29))
