"""A BLF log as what its containers hold: unpacked in turn, some of them together, and where objects begin in that."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import BinaryIO

import numpy as np

from relearn.capture.marks import I64, U8, windows
from relearn.capture.odd import Odd

FILE_HEADER = struct.Struct("<4sL8xQ16x8H")  # 'LOGG', its own size, size of the file, start as year, month, weekday, …
OBJECT = struct.Struct("<4sHHLL")  # 'LOBJ', size of the header, its version, size and type of the object
METHOD = struct.Struct("<H14x")
CONTAINER, NOT_PACKED, DEFLATED = 10, 0, 2
BATCH_BYTES = 512 * 1024
NEXT_WITHIN = 5  # the next object begins behind at most four bytes of padding,
SEARCHED = 8  # so that its signature lies in these


def start_s(file: BinaryIO, size: int | None) -> float:
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


def batches(file: BinaryIO) -> Iterator[bytes]:
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


def objects(batch: bytes, text: U8) -> tuple[I64, int]:
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
