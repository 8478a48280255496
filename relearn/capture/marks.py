"""A block of log text seen through its marks, and numbers read from text, for all lines at once.

A mark is any byte that is no hex digit. Between two marks there are only hex digits, so the places of the marks say
almost everything about a line's form: finding them takes one look at each byte, and no line becomes a Python object.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from relearn.capture.assemble import LAST_S

I64 = NDArray[np.int64]
U8 = NDArray[np.uint8]
Mask = NDArray[np.bool_]
T = TypeVar("T", bound=np.generic)

NEWLINE, RETURN, BLANK, HASH, COMMA = b"\n\r #,"
NO_DIGIT = 255
HEX = np.frombuffer(b"0123456789ABCDEFabcdef", np.uint8)
SEXTET = np.frombuffer(b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/", np.uint8)  # RFC 4648
_BALLAST = 16 * 1024 * 1024
MARGIN = np.zeros(256, np.uint8)  # behind a block's text, so that a window on its last line does not end outside


def _digit_table() -> U8:
    table = np.full(256, NO_DIGIT, np.uint8)
    for value, (lower, upper) in enumerate(zip("0123456789abcdef", "0123456789ABCDEF", strict=True)):
        table[[ord(lower), ord(upper)]] = value
    return table


_DIGIT = _digit_table()
_WIDE_DIGIT = np.where(_DIGIT == NO_DIGIT, 1 << 40, _DIGIT.astype(np.int64))  # no sum with such a digit looks small
_ONLY_BIT = np.full(256, -1)  # which bit of a byte is set, the highest being 0; -1 unless it is a single one
_ONLY_BIT[1 << np.arange(8)[::-1]] = np.arange(8)


@dataclass(frozen=True, eq=False)
class Block:
    """Whole lines of text.

    text: the bytes, with a margin behind the last newline. number: per line, its number in the file.
    place, kind: per mark, where it is and which byte it is.
    first, stop: per line, its first byte and the newline that ends it.
    head, tail: per line, its first mark and the newline's mark, as indices into place and kind.
    """

    text: U8
    number: I64
    place: I64
    kind: U8
    first: I64
    stop: I64
    head: I64
    tail: I64

    def line(self, row: int) -> bytes:
        """One line's bytes, without its newline."""
        return self.text[self.first[row] : self.stop[row]].tobytes()


class Desk:
    """Room to work in, kept from block to block: fresh memory for each costs more than the work itself."""

    def __init__(self, size: int) -> None:
        keep_freed_memory()
        self._byte = np.empty(size, np.uint8)
        self._mark = np.empty(size, np.bool_)
        self._other = np.empty(size, np.bool_)

    def marks(self, text: U8) -> Mask:
        """Which bytes are no hex digits. Holds until the desk is used again."""
        byte, mark, other = (room[: len(text)] for room in (self._byte, self._mark, self._other))
        np.subtract(text, ord("0"), out=byte)  # what lies below '0' wraps round to large numbers
        np.greater(byte, 9, out=mark)
        np.bitwise_or(text, 0x20, out=byte)  # lower case
        np.subtract(byte, ord("a"), out=byte)
        np.greater(byte, 5, out=other)
        return np.logical_and(mark, other, out=mark)

    def equal(self, text: U8, byte: int) -> Mask:
        """Where a byte is. Holds until the desk is used again."""
        return np.equal(text, byte, out=self._mark[: len(text)])

    def count(self, text: U8, byte: int) -> int:
        """How often a byte is there."""
        return int(np.count_nonzero(self.equal(text, byte)))


def keep_freed_memory() -> None:
    """Having freed a large array once, glibc keeps what later ones free for the next, at no cost for fresh pages."""
    np.empty(_BALLAST, np.uint8)


def block(texts: Sequence[U8], number: I64, desk: Desk) -> Block:
    """Split whole lines (each text ends with a newline) into a Block."""
    text = np.concatenate([*texts, MARGIN])
    place = np.flatnonzero(desk.marks(text[: -len(MARGIN)]))
    kind = text.take(place)
    tail = np.flatnonzero(kind == NEWLINE)
    stop = place.take(tail)
    return Block(text, number, place, kind, behind(stop), stop, behind(tail), tail)


def places(found: Mask) -> I64:
    """Where it is true: np.flatnonzero, but quicker for what lies far apart, as newlines do."""
    eight = np.packbits(found)
    at_eight = np.flatnonzero(eight != 0)
    only = _ONLY_BIT.take(eight.take(at_eight))
    return np.flatnonzero(found) if (only < 0).any() else only + 8 * at_eight


def behind(ends: I64) -> I64:
    """Where each piece begins when the one before ends there: 0, then one behind each end but the last."""
    begins = np.zeros_like(ends)
    np.add(ends[:-1], 1, out=begins[1:])
    return begins


def at(values: NDArray[T], index: I64) -> NDArray[T]:
    """values[index]; an index outside takes the nearest end, as a line that asks for it is malformed anyway."""
    return values.take(index, mode="clip")


def digit_at(text: U8, place: I64) -> U8:
    """The hex digit at each place, NO_DIGIT where there is none."""
    return _DIGIT.take(at(text, place))


def digits(values: U8) -> U8:
    """Characters as hex digits, NO_DIGIT for what is none."""
    return _DIGIT.take(values)


def hex_number(text: U8, first: I64, digits: int) -> I64:
    """The number of so many hex digits from each place; 2**40 or more where one of them is no hex digit."""
    return _hex_value(at(text, first + offset) for offset in range(digits))


def hex_value(characters: U8) -> I64:
    """The number of the hex digits in each row; 2**40 or more where one of them is no hex digit."""
    return _hex_value(iter(characters.T))


def _hex_value(columns: Iterator[U8]) -> I64:
    number = _WIDE_DIGIT.take(next(columns))
    for column in columns:
        number <<= 4
        number += _WIDE_DIGIT.take(column)
    return number


def windows(text: U8, first: I64, size: int) -> U8:
    """The `size` (at least 1) bytes from each place, a row each. The text must go on for as long behind it."""
    pieces = np.ndarray((len(text) - size + 1,), f"V{size}", buffer=text, strides=(1,))  # overlapping, no copies
    return pieces[first].view(np.uint8).reshape(len(first), size)


def hex_bytes(text: U8, first: I64, step: int, length: I64, width: int) -> U8:
    """Bytes of two hex digits each, `step` characters apart; zero behind each length. Text as for windows."""
    digit = _DIGIT.take(windows(text, first, step * width))
    value: U8 = (digit[:, 0::step] << np.uint8(4)) | digit[:, 1::step]
    value *= np.arange(width) < length[:, None]
    return value


def by_shape(shape: I64) -> Iterator[tuple[int, I64]]:
    """Each shape that is there, a small number, and its rows: what is of one shape, mostly all, is read together."""
    for each in np.flatnonzero(np.bincount(shape)).tolist():
        yield each, np.flatnonzero(shape == each)


def time_ns(text: U8, opening: I64, dot: I64, closing: I64) -> tuple[I64, Mask]:
    """Nanoseconds of '(seconds.fraction)' given the places of its three marks, and whether it is well formed.

    Well formed: 1 to 10 digits of seconds, 1 to 9 of fraction, and before the year 2255. Text as for windows.
    """
    whole, rest = np.minimum(dot - opening, 12), np.minimum(closing - dot, 12)
    result, valid = np.zeros(len(opening), np.int64), np.zeros(len(opening), np.bool_)
    for each, rows in by_shape(whole * 16 + rest):
        digits, decimals = each // 16 - 1, each % 16 - 1
        if 1 <= digits <= 10 and 1 <= decimals <= 9:
            result[rows], valid[rows] = _time_ns(text, opening[rows] + 1, digits, decimals)
    return result, valid


def _time_ns(text: U8, first: I64, digits: int, decimals: int) -> tuple[I64, Mask]:
    digit = windows(text, first, digits + 1 + decimals) - np.uint8(ord("0"))  # what is no digit becomes 10 or more
    digit[:, digits] = 0  # the dot
    valid = (digit < 10).all(axis=1) if (digit > 9).any() else np.ones(len(first), np.bool_)
    weight = np.zeros((digits + 1 + decimals, 2))
    weight[:digits, 0] = 10.0 ** np.arange(digits)[::-1]
    weight[digits + 1 :, 1] = 10.0 ** np.arange(8, 8 - decimals, -1)
    seconds, nanoseconds = (digit.astype(np.float64) @ weight).astype(np.int64).T
    valid &= seconds <= LAST_S
    return np.where(valid, seconds, 0) * 1_000_000_000 + nanoseconds, valid
