"""A block of log text seen through its marks, and numbers read from text, for all lines at once.

A mark is any byte that is no hex digit. Between two marks there are only hex digits, so the places of the marks say
almost everything about a line's form: finding them takes one look at each byte, and no line becomes a Python object.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

I64 = NDArray[np.int64]
U8 = NDArray[np.uint8]
Mask = NDArray[np.bool_]
T = TypeVar("T", bound=np.generic)

NEWLINE, RETURN, BLANK = ord("\n"), ord("\r"), ord(" ")
NO_DIGIT = 255
_POWER_10 = 10 ** np.arange(18, dtype=np.int64)
_LAST_S = 9_000_000_000  # later seconds do not fit in 64 bits of nanoseconds


def _digit_table() -> U8:
    table = np.full(256, NO_DIGIT, np.uint8)
    for value, (lower, upper) in enumerate(zip("0123456789abcdef", "0123456789ABCDEF", strict=True)):
        table[[ord(lower), ord(upper)]] = value
    return table


_DIGIT = _digit_table()


@dataclass(frozen=True, eq=False)
class Block:
    """Whole lines of text.

    text: the bytes, ending with a newline. place, kind: where each mark is, and which byte it is.
    first, stop: per line, its first byte and the newline that ends it.
    head, tail: per line, the first mark and the mark that ends it, as indices into place and kind.
    number: the line number of the block's first line.
    """

    text: U8
    place: I64
    kind: U8
    first: I64
    stop: I64
    head: I64
    tail: I64
    number: int

    def line(self, row: int) -> bytes:
        """One line's bytes, without its newline."""
        return self.text[self.first[row] : self.stop[row]].tobytes()


class Desk:
    """Room to work in, kept from block to block: fresh memory for each costs more than the work itself."""

    def __init__(self, size: int) -> None:
        self._shifted = np.empty(size, np.uint8)
        self._mark = np.empty(size, np.bool_)
        self._letter = np.empty(size, np.bool_)

    def marks(self, text: U8) -> I64:
        """The places of all bytes of a text that are no hex digits."""
        shifted, mark, letter = (room[: len(text)] for room in (self._shifted, self._mark, self._letter))
        np.subtract(text, ord("0"), out=shifted)  # what lies below '0' wraps round to large numbers
        np.greater(shifted, 9, out=mark)
        np.bitwise_or(text, 0x20, out=shifted)  # lower case
        np.subtract(shifted, ord("a"), out=shifted)
        np.greater(shifted, 5, out=letter)
        np.logical_and(mark, letter, out=mark)
        return np.flatnonzero(mark)


def block(text: U8, number: int, desk: Desk) -> Block:
    """Split whole lines of text (the last byte is a newline) into a Block."""
    place = desk.marks(text)
    kind = text.take(place)
    tail = np.flatnonzero(kind == NEWLINE)
    stop = place.take(tail)
    return Block(text, place, kind, _after(stop), stop, _after(tail), tail, number)


def _after(ends: I64) -> I64:
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


def hex_number(text: U8, first: I64, digits: int) -> I64:
    """The number of so many hex digits from each place; garbage where they are no hex digits."""
    number = digit_at(text, first).astype(np.int64)
    for offset in range(1, digits):
        number <<= 4
        number |= digit_at(text, first + offset)
    return number


def hex_bytes(text: U8, first: I64, step: int, length: I64, width: int) -> U8:
    """Bytes of two hex digits each, `step` characters apart; zero behind each length."""
    place = first[:, None] + step * np.arange(width)
    high, low = digit_at(text, place), digit_at(text, place + 1)
    return np.where(np.arange(width) < length[:, None], (high << 4) | low, 0).astype(np.uint8)


def decimal(text: U8, first: I64, stop: I64) -> tuple[I64, Mask]:
    """The decimal number from each first to before each stop, and whether it is one, of 1 to 18 digits."""
    width = stop - first
    longest = np.arange(min(18, int(width.max(initial=1))))
    inside = longest < width[:, None]
    digit = np.where(inside, digit_at(text, stop[:, None] - 1 - longest), 0)
    return digit @ _POWER_10[: len(longest)], (digit < 10).all(axis=1) & (width >= 1) & (width <= 18)


def time_ns(text: U8, opening: I64, dot: I64, closing: I64) -> tuple[I64, Mask]:
    """Nanoseconds of '(seconds.fraction)' given the places of its three marks, and whether it is well formed.

    Up to 10 digits of seconds and 9 of fraction, and no more than 64 bits of nanoseconds hold (the year 2255).
    """
    seconds, whole = decimal(text, opening + 1, dot)
    fraction, rest = decimal(text, dot + 1, closing)
    digits = closing - dot - 1
    valid = whole & rest & (digits <= 9) & (seconds <= _LAST_S)
    return np.where(valid, seconds, 0) * 1_000_000_000 + fraction * at(_POWER_10, 9 - digits), valid
