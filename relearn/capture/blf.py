"""BLF logs, read fast: containers are unpacked in turn, and all objects of a few of them are looked at together.

Whatever is odd about a file (damage, frames that can be none, packing nobody uses) is left to python-can's reader from
the beginning. Layouts of file, object and frames: as python-can's can/io/blf.py has them.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from relearn.capture import assemble, files, marks
from relearn.capture.assemble import FD_LENGTHS, LAST_S, MAX_11, MAX_29, Part, Span
from relearn.capture.frames import Capture
from relearn.capture.keep import KEEP_DIAGNOSTIC, Keep
from relearn.capture.marks import I64, U8, Mask, windows
from relearn.capture.odd import Odd, need

FILE_HEADER = struct.Struct("<4sL8xQ16x8H")  # 'LOGG', its own size, size of the file, start as year, month, weekday, …
OBJECT = struct.Struct("<4sHHLL")  # 'LOBJ', size of the header, its version, size and type of the object
METHOD = struct.Struct("<H14x")
CONTAINER, NOT_PACKED, DEFLATED = 10, 0, 2
BATCH_BYTES = 512 * 1024
MARGIN = bytes(256)  # behind a batch, so that a window on its last object does not end outside
NEXT_WITHIN = 5  # the next object begins behind at most four bytes of padding,
SEARCHED = 8  # so that its signature lies in these
EXTENDED = 1 << 31
TEN_MICROSECONDS = 1
EXACT = 1 << 53  # larger counts are not exact as floats
BODY_AT = np.array([0, 32, 40])  # by the version of the object's header
ERROR, ERROR_BYTES = 73, 32
_FD_LENGTH = np.array(FD_LENGTHS, np.uint8)

Records = NDArray[np.void]


def _record(itemsize: int, /, **fields: tuple[str, int]) -> np.dtype[np.void]:
    formats, offsets = zip(*fields.values(), strict=True)
    return np.dtype({"names": list(fields), "formats": formats, "offsets": offsets, "itemsize": itemsize})


HEADER = _record(
    32, header=("<u2", 4), version=("<u2", 6), size=("<u4", 8), type=("<u4", 12), clock=("<u4", 16), time=("<u8", 24)
)


@dataclass(frozen=True)
class _Kind:
    """A type of object that holds a data or remote frame.

    fields: those of its body; 'code' is that of the data's length. data: where the bytes begin in the body. remote: the
    flag of a remote frame. length: how many bytes, and can that be?
    (of the body's fields and the object's header)
    """

    fields: np.dtype[np.void]
    data: int
    remote: int
    length: Callable[[Records, Records], tuple[U8, Mask]]


def _classic_length(read: Records, header: Records) -> tuple[U8, Mask]:
    return np.minimum(read["code"], 8), read["code"] < len(FD_LENGTHS)


def _fd_length(read: Records, header: Records) -> tuple[U8, Mask]:
    return read["length"], _FD_LENGTH.take(read["code"], mode="clip") == read["length"]


def _fd_64_length(read: Records, header: Records) -> tuple[U8, Mask]:
    length, fits = _fd_length(read, header)
    stop = np.where(read["more"] > 0, read["more"], header["size"]).astype(np.int64) - header["header"]
    return length, fits & (stop - _FD_64.fields.itemsize >= length)


_CLASSIC = _Kind(
    _record(16, channel=("<u2", 0), flags=("u1", 2), code=("u1", 3), identifier=("<u4", 4)), 8, 0x80, _classic_length
)
_FD = _Kind(
    _record(84, channel=("<u2", 0), flags=("u1", 2), code=("u1", 3), identifier=("<u4", 4), length=("u1", 14)),
    20,
    0x80,
    _fd_length,
)
_FD_64 = _Kind(
    _record(
        40,
        channel=("u1", 0),
        code=("u1", 1),
        length=("u1", 2),
        identifier=("<u4", 4),
        flags=("<u4", 12),
        more=("u1", 35),
    ),
    40,
    0x10,
    _fd_64_length,
)
KINDS = {1: _CLASSIC, 86: _CLASSIC, 100: _FD, 101: _FD_64}


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
            reading = _Reading(keep, _start_s(file, None if files.is_gzipped(path) else path.stat().st_size))
            tail = b""
            for batch in _batches(file):
                tail = _gather(reading, tail + batch)
    except (Odd, *files.GZIP_DAMAGE, struct.error):
        from relearn.capture import pythoncan

        return pythoncan.read_blf(path, keep)
    faults = assemble.error_frame_fault(reading.error_frames)
    return assemble.capture(path, reading.parts, reading.span, unit="frame", faults=faults)


def _start_s(file: BinaryIO, size: int | None) -> float:
    """Read the file's header; 0.0 where it tells no date."""
    signature, header_size, stated_size, year, month, _, day, hour, minute, second, ms = FILE_HEADER.unpack(
        file.read(FILE_HEADER.size)
    )
    if signature != b"LOGG" or (size is not None and stated_size > size):
        raise Odd
    file.read(header_size - FILE_HEADER.size)
    try:
        return datetime(year, month, day, hour, minute, second, ms * 1000, UTC).timestamp()
    except ValueError:
        return 0.0


def _batches(file: BinaryIO) -> Iterator[bytes]:
    """What the containers hold, some of them together."""
    held: list[bytes] = []
    size = 0
    for content in _containers(file):
        held.append(content)
        size += len(content)
        if size >= BATCH_BYTES:
            yield b"".join(held)
            held, size = [], 0
    yield b"".join(held)


def _containers(file: BinaryIO) -> Iterator[bytes]:
    while head := file.read(OBJECT.size):
        signature, _, _, size, kind = OBJECT.unpack(head)
        content = file.read(max(size - OBJECT.size, 0))
        if signature != b"LOBJ" or len(content) != size - OBJECT.size:
            raise Odd
        file.read(size % 4)
        if kind == CONTAINER:
            yield _unpacked(METHOD.unpack_from(content)[0], content[METHOD.size :])


def _unpacked(method: int, content: bytes) -> bytes:
    if method == NOT_PACKED:
        return content
    unpacker = zlib.decompressobj()
    if method != DEFLATED:
        raise Odd
    data = unpacker.decompress(content)
    if not unpacker.eof:
        raise Odd
    return data


def _gather(reading: _Reading, batch: bytes) -> bytes:
    """Gather the frames of all whole objects; what is left behind the last of them."""
    text = np.frombuffer(batch + MARGIN, np.uint8)
    place, end = _objects(batch, text)
    header = windows(text, place, HEADER.itemsize).view(HEADER).ravel()
    known = np.isin(header["type"], [*KINDS, ERROR]) & ((header["version"] == 1) | (header["version"] == 2))
    if not known.all():
        place, header = place[known], header[known]
    if len(place):
        _gather_known(reading, text, place, header)
    return batch[end:]


def _objects(batch: bytes, text: U8) -> tuple[I64, int]:
    """Where the whole objects begin, and the end of the last."""
    place = np.flatnonzero(text[: max(len(batch) - OBJECT.size + 1, 0)] == ord("L"))
    for offset, letter in enumerate(b"OBJ", 1):
        place = place[text.take(place + offset) == letter]
    end = place + windows(text, place + 8, 4).view("<u4").ravel()
    gap = place - np.append(0, end[:-1])
    if not ((gap >= 0) & (gap < NEXT_WITHIN)).all():
        place, end = _step_by_step(place, end)  # an object holds the signature too
    place, end = place[end <= len(batch)], end[end <= len(batch)]
    last = int(end[-1]) if len(end) else 0
    if len(batch) - last >= SEARCHED and b"LOBJ" not in batch[last : last + SEARCHED]:
        raise Odd
    return place, last


def _step_by_step(place: I64, end: I64) -> tuple[I64, I64]:
    """Only the objects that follow from one another."""
    chosen, here = [], 0
    for row, (first, after) in enumerate(zip(place.tolist(), end.tolist(), strict=True)):
        if first < here:
            continue
        if first - here >= NEXT_WITHIN or after <= first:
            raise Odd
        chosen.append(row)
        here = after
    return place[chosen], end[chosen]


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


def _part(keep: Keep, kind: _Kind, text: U8, body: I64, header: Records) -> Part:
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
