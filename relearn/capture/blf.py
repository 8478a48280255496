"""BLF logs, read fast: containers are unpacked in turn, and all objects of a few of them are looked at together.

Whatever is odd about a file (damage, frames that can be none, packing nobody uses) is left to python-can's reader from
the beginning. What is where: blf_containers.py, blf_objects.py.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from relearn.capture import assemble, files, marks
from relearn.capture.assemble import LAST_S, MAX_11, MAX_29, Part, Span
from relearn.capture.blf_containers import batches, objects, start_s
from relearn.capture.blf_objects import (
    BODY_AT,
    ERROR,
    ERROR_BYTES,
    EXTENDED,
    HEADER,
    KINDS,
    TEN_MICROSECONDS,
    Kind,
    Records,
)
from relearn.capture.frames import Capture
from relearn.capture.keep import KEEP_DIAGNOSTIC, Keep
from relearn.capture.marks import I64, U8, windows
from relearn.capture.odd import Odd, need

MARGIN = bytes(256)  # behind a batch, so that a window on its last object does not end outside
EXACT = 1 << 53  # larger counts are not exact as floats


@dataclass
class _Reading:
    """What has been gathered so far. start_s: the clock of the file's time zero."""

    keep: Keep
    start_s: float
    parts: list[Part] = field(default_factory=list)
    span: Span = field(default_factory=Span)
    error_frames: int = 0


def read(path: Path, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    """The kept frames of a BLF log. CaptureError as from python-can's reader (pythoncan.py)."""
    marks.keep_freed_memory()
    try:
        with files.open_binary(path) as file:
            reading = _Reading(keep, start_s(file, None if files.is_gzipped(path) else path.stat().st_size))
            tail = b""
            for batch in batches(file):
                tail = _gather(reading, tail + batch)
    except (Odd, *files.GZIP_DAMAGE, struct.error):
        from relearn.capture import pythoncan

        return pythoncan.read_blf(path, keep)
    faults = assemble.error_frame_fault(reading.error_frames)
    return assemble.capture(path, reading.parts, reading.span, unit="frame", faults=faults)


def _gather(reading: _Reading, batch: bytes) -> bytes:
    """Gather the frames of all whole objects; what is left behind the last of them."""
    text = np.frombuffer(batch + MARGIN, np.uint8)
    place, end = objects(batch, text)
    header = windows(text, place, HEADER.itemsize).view(HEADER).ravel()
    known = np.isin(header["type"], [*KINDS, ERROR]) & ((header["version"] == 1) | (header["version"] == 2))
    if not known.all():
        place, header = place[known], header[known]
    if len(place):
        _gather_known(reading, text, place, header)
    return batch[end:]


def _gather_known(reading: _Reading, text: U8, place: I64, header: Records) -> None:
    """Gather the frames among objects that each hold one, count them all."""
    number = reading.span.frames + 1 + np.arange(len(place))
    time_ns = _times_ns(header, reading.start_s)
    reading.span.frames += len(place)
    for edge in (0, -1):
        reading.span.meet(int(number[edge]), int(time_ns[edge]))
    body = place + BODY_AT[header["version"]]
    room = place + header["size"] - body
    kinds = np.flatnonzero(np.bincount(header["type"])).tolist()
    for kind in kinds:
        rows = np.flatnonzero(header["type"] == kind) if len(kinds) > 1 else np.arange(len(place))
        need(room[rows] >= (ERROR_BYTES if kind == ERROR else KINDS[kind].fields.itemsize))
        if kind == ERROR:
            reading.error_frames += len(rows)
        else:
            part = _part(reading.keep, KINDS[kind], text, body[rows], header[rows] if len(kinds) > 1 else header)
            known = rows[part.number]
            reading.parts.append(replace(part, time_ns=time_ns[known], number=number[known]))


def _times_ns(header: Records, start_s: float) -> I64:
    """As messages.py rounds what python-can's reader makes of them, to the microsecond."""
    count = header["time"]
    need(count < EXACT)
    time_s = count / np.where(header["clock"] == TEN_MICROSECONDS, 1e5, 1e9) + start_s
    need(time_s <= LAST_S)
    return np.rint(time_s * 1e6).astype(np.int64) * 1000


def _part(keep: Keep, kind: Kind, text: U8, body: I64, header: Records) -> Part:
    """The kept frames among objects of one kind; their numbers are rows of `body`, their times are not known yet."""
    read = windows(text, body, kind.fields.itemsize).view(kind.fields).ravel()
    extended = read["identifier"] & EXTENDED != 0
    identifier: NDArray[np.uint32] = read["identifier"] & np.uint32(MAX_29)
    data = read["flags"] & kind.remote == 0
    length, fits = kind.length(read, header)
    need((fits | ~data) & (extended | (identifier <= MAX_11)))
    rows = np.flatnonzero(data & keep.mask(identifier, extended))
    width = assemble.data_width(int(length[rows].max(initial=0)))
    content = windows(text, body[rows] + kind.data, width) * (np.arange(width) < length[rows, None])
    bus = read["channel"][rows].astype(np.int64)
    return Part(np.zeros(len(rows), np.int64), rows, bus, identifier[rows], extended[rows], length[rows], content)
