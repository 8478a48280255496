"""What the objects of a BLF log that hold frames have where, as python-can's can/io/blf.py has it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from relearn.capture.assemble import FD_LENGTHS
from relearn.capture.marks import U8, Mask

ERROR, ERROR_BYTES = 73, 32
BODY_AT = np.array([0, 32, 40])  # by the version of the object's header
EXTENDED = 1 << 31
TEN_MICROSECONDS = 1  # the unit of a clock; others count nanoseconds
_FD_LENGTH = np.array(FD_LENGTHS, np.uint8)

Records = NDArray[np.void]


def _record(itemsize: int, /, **fields: tuple[str, int]) -> np.dtype[np.void]:
    formats, offsets = zip(*fields.values(), strict=True)
    return np.dtype({"names": list(fields), "formats": formats, "offsets": offsets, "itemsize": itemsize})


HEADER = _record(
    32, header=("<u2", 4), version=("<u2", 6), size=("<u4", 8), type=("<u4", 12), clock=("<u4", 16), time=("<u8", 24)
)


@dataclass(frozen=True)
class Kind:
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


_CLASSIC = Kind(
    _record(16, channel=("<u2", 0), flags=("u1", 2), code=("u1", 3), identifier=("<u4", 4)), 8, 0x80, _classic_length
)
_FD = Kind(
    _record(84, channel=("<u2", 0), flags=("u1", 2), code=("u1", 3), identifier=("<u4", 4), length=("u1", 14)),
    20,
    0x80,
    _fd_length,
)
_FD_64 = Kind(
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
