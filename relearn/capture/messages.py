"""python-can messages into a Capture: one at a time, only the kept ones stay, as columns."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import can
from can.util import len2dlc

from relearn.capture import assemble
from relearn.capture.assemble import LAST_S, MAX_11, MAX_29, Part, Row, Span
from relearn.capture.keep import Keep

BATCH = 8192  # messages looked at together when choosing which to keep


@dataclass
class Gathered:
    """What has been gathered from a file so far. malformed: the numbers of messages that can be no frame."""

    keep: Keep
    buses: dict[object, int] = field(default_factory=dict)
    parts: list[Part] = field(default_factory=list)
    span: Span = field(default_factory=Span)
    malformed: list[int] = field(default_factory=list)
    error_frames: int = 0


def gather(messages: Iterable[tuple[int, can.Message]], gathered: Gathered) -> Gathered:
    """All (number, message) pairs, in batches, to what has been gathered already."""
    batch: list[Row] = []
    for number, message in messages:
        batch += _rows(gathered, number, message)
        if len(batch) >= BATCH:
            _choose(gathered, batch)
            batch = []
    _choose(gathered, batch)
    return gathered


def _rows(gathered: Gathered, number: int, message: can.Message) -> list[Row]:
    """The message's row, none for remote, error and malformed frames; counts each."""
    if not sound(message):
        gathered.malformed.append(number)
        return []
    time_ns = round(message.timestamp * 1e6) * 1000  # a float of seconds since 1970 holds no more than microseconds
    gathered.span.frames += 1
    gathered.span.meet(number, time_ns)
    gathered.error_frames += message.is_error_frame
    if message.is_error_frame or message.is_remote_frame:
        return []
    bus = gathered.buses.setdefault(message.channel, len(gathered.buses))
    return [Row(time_ns, number, bus, message.arbitration_id, message.is_extended_id, bytes(message.data))]


def sound(message: can.Message) -> bool:
    """Can this be a frame: a time, an identifier in its range, as many data bytes as it says it has?"""
    if not isinstance(message.timestamp, int | float) or not isinstance(message.arbitration_id, int):
        return False  # a damaged database holds anything
    if not 0 <= message.timestamp <= LAST_S:  # nor is NaN
        return False
    if message.is_error_frame:
        return True
    known = 0 <= message.arbitration_id <= (MAX_29 if message.is_extended_id else MAX_11)
    size = len(message.data)
    # python-can's TRC reader gives the code of a CAN FD length; on a classic bus the codes 9 to 15 mean 8 bytes
    stated = {size, len2dlc(size)} if size in assemble.FD_LENGTHS else set()
    stated |= set(range(9, 16)) if size == 8 and not message.is_fd else set()
    return known and (message.is_remote_frame or message.dlc in stated)


def _choose(gathered: Gathered, batch: list[Row]) -> None:
    """Keep what is asked for of a batch."""
    part = assemble.part(batch)
    gathered.parts.append(part.take(gathered.keep.mask(part.identifier, part.extended)))
