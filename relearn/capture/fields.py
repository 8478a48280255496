"""A block of log text seen through its fields, and what fields hold, for all lines at once: for ASC, TRC and CSV."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from relearn.capture import marks
from relearn.capture.assemble import MAX_11, MAX_29
from relearn.capture.marks import (
    BLANK,
    COMMA,
    I64,
    MARGIN,
    NEWLINE,
    RETURN,
    SEXTET,
    U8,
    Mask,
    at,
    behind,
    by_shape,
    digits,
    windows,
)

CLASSIC_BYTES = 8
DECIMAL_CHARACTERS = 24
DOT = ord(".")
EXACT = 2.0**53  # whole numbers below are floats; so is a power of ten up to 10**22
NO_NUMBER = 1 << 40


Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Fields:
    """All fields of whole lines. start, stop: of each field; head, count: per line, its first field and how many."""

    text: U8
    start: I64
    stop: I64
    head: I64
    count: I64
    first: I64
    end: I64

    def place(self, number: int) -> I64:
        """Where each line's field of a number begins."""
        return at(self.start, self.head + number)

    def width(self, number: int) -> I64:
        """How many characters it has."""
        return at(self.stop, self.head + number) - self.place(number)

    def line(self, row: int) -> bytes:
        """One line's bytes."""
        return self.text[self.first[row] : self.end[row] + 1].tobytes()


@dataclass(frozen=True, eq=False)
class Identifiers:
    """Per line: the identifier, is it of 29 bits, is it well formed and in its range."""

    number: I64
    extended: Mask
    fits: Mask


def unmistakable(text: U8, newline: I64) -> bool:
    """Is it plain what a line is: no control characters in whole lines, no returns but before newlines?"""
    control = int(np.count_nonzero(text < ord(" "))) - len(newline)
    return not control or control == np.count_nonzero(at(text, newline - 1)[newline > 0] == RETURN)


def split(text: U8, separator: int) -> Fields:
    """Whole lines, at least one, as fields: each comma ends one; but a stretch of blanks ends only one."""
    newline = np.flatnonzero(text == NEWLINE)
    start, stop = _by_commas(text) if separator == COMMA else _by_blanks(text)
    first = behind(newline)
    head = np.searchsorted(start, first)
    count = np.diff(head, append=len(start))
    start, stop = np.append(start, len(text)), np.append(stop, len(text))  # one without width, for lines that have none
    return Fields(np.concatenate([text, MARGIN]), start, stop, head, count, first, newline)


def _by_commas(text: U8) -> tuple[I64, I64]:
    end = np.flatnonzero((text == COMMA) | (text == NEWLINE))
    return behind(end), end - ((text[end] == NEWLINE) & (at(text, end - 1) == RETURN))


def _by_blanks(text: U8) -> tuple[I64, I64]:
    apart = text <= BLANK
    edge = np.flatnonzero(apart[1:] != apart[:-1]) + 1
    if not apart[0]:
        edge = np.append(0, edge)
    return edge[0::2], edge[1::2]


def hex_numbers(text: U8, place: I64, width: I64) -> I64:
    """Numbers of 1 to 8 hex digits; 2**40 or more where there are more of them, none, or other characters."""
    number = np.full(len(place), NO_NUMBER)
    for each, rows in by_shape(np.clip(width, 0, 9)):
        if 1 <= each <= 8:
            number[rows] = marks.hex_number(text, place[rows], each)
    return number


def decimals(text: U8, place: I64, width: I64, *, least_dots: int) -> tuple[Floats, Mask]:
    """Numbers as float() reads them, and which are some: at most 24 characters, digits with at most one dot among them.

    Text as for windows.
    """
    dot = (windows(text, place, DECIMAL_CHARACTERS) == DOT).argmax(axis=1)
    shape = np.minimum(width, DECIMAL_CHARACTERS + 1) * DECIMAL_CHARACTERS + np.where(dot < width, dot, 0)
    number, fits = np.zeros(len(place)), np.zeros(len(place), np.bool_)
    for each, rows in by_shape(shape):
        size, before = divmod(each, DECIMAL_CHARACTERS)
        dots = int(before > 0)
        if dots >= least_dots and before + dots < size <= DECIMAL_CHARACTERS:
            number[rows], fits[rows] = _decimals(windows(text, place[rows], size), before)
    return number, fits


def _decimals(text: U8, dot: int) -> tuple[Floats, Mask]:
    """The same, a row each, all with the dot at this place, or without one where it is 0."""
    digit = (np.delete(text, dot, axis=1) if dot else text) - np.uint8(ord("0"))  # what is no digit becomes 10 or more
    fits = np.asarray((digit < 10).all(axis=1))
    whole = digit.astype(np.float64) @ 10.0 ** np.arange(digit.shape[1])[::-1]
    after = text.shape[1] - dot - 1 if dot else 0
    if (whole < EXACT).all():  # and a power of ten is exact too: their quotient is the nearest float there is
        return whole / 10.0**after, fits
    text[~fits] = ord("0")
    return text.view(f"S{text.shape[1]}").ravel().astype(np.float64), fits


def in_range(number: I64, extended: Mask) -> Identifiers:
    """Identifiers: do they lie in the range of theirs?"""
    return Identifiers(number, extended, number <= np.where(extended, MAX_29, MAX_11))


def spaced_bytes(fields: Fields, length: I64, first: int) -> tuple[U8, Mask]:
    """Data as fields of two hex digits, one blank apart, from a field on: the bytes, 8 wide; are they well formed?"""
    text = windows(fields.text, fields.place(first), 3 * CLASSIC_BYTES)
    high, low = digits(text[:, 0::3]), digits(text[:, 1::3])
    behind_end = np.arange(CLASSIC_BYTES) >= length[:, None]
    well_formed = ((high | low) < 16) & (text[:, 2::3] <= BLANK)
    data = (high << np.uint8(4)) | low
    data[behind_end] = 0
    return data, np.asarray((well_formed | behind_end).all(axis=1))


def base64_bytes(fields: Fields, length: I64, first: int) -> tuple[U8, Mask]:
    """Data as one field in base64 (RFC 4648): the bytes, 8 wide; are they well formed?"""
    text = windows(fields.text, fields.place(first), _BASE64_CHARACTERS)
    digit = _SEXTET.take(text)
    characters = (length * 4 + 2) // 3
    outside = np.arange(_BASE64_CHARACTERS) >= characters[:, None]
    padded = (length + 2) // 3 * 4
    padding = (text == ord("=")) | (np.arange(_BASE64_CHARACTERS) >= padded[:, None])
    well_formed = np.where(outside, padding, digit < 64).all(axis=1)
    well_formed &= fields.width(first) == padded
    digit[outside] = 0
    groups = digit.reshape(-1, 3, 4).astype(np.uint32) @ np.array([1 << 18, 1 << 12, 1 << 6, 1], np.uint32)
    data = groups.astype(">u4").view(np.uint8).reshape(-1, 3, 4)[:, :, 1:].reshape(-1, 9)[:, :CLASSIC_BYTES]
    return data * (np.arange(CLASSIC_BYTES) < length[:, None]), well_formed  # the last character has bits to spare


def _sextets() -> U8:
    table = np.full(256, marks.NO_DIGIT, np.uint8)
    table[SEXTET] = np.arange(64)
    return table


_BASE64_CHARACTERS = 12
_SEXTET = _sextets()
