"""Skimming ASC, TRC and CSV, as skim.py does for candump text: lines that nobody asked for are left out cheaply.

A line is dull when it is built like an example, character by character, up to its data, its data is well formed, and
its 11-bit identifier is not asked for. Some examples from a block stand for all its lines; whatever is like none of
them stays and is read with care.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from relearn.capture.marks import (
    COMMA,
    HEX,
    I64,
    MARGIN,
    NEWLINE,
    RETURN,
    SEXTET,
    U8,
    Mask,
    at,
    behind,
    hex_number,
    windows,
)  # fmt: skip
from relearn.capture.skim import Sifted, pick

EXAMPLES = 5  # more kinds of lines in one block are read with care
DIGIT, BLANK, END, APART, PAD = 1, 2, 4, 8, 16  # what a character can be
WORD = 8  # bytes compared at once
LENGTHS = range(9)

Words = NDArray[np.uint64]


@dataclass(frozen=True, eq=False)
class Dull:
    """How to tell dull lines of a format.

    example: a line up to its data, from its beginning or, by_comma, from its first comma; with the groups 'identifier'
    and 'length', and 'number' for digits that differ. digits: those of the data. data: what its characters must be.
    """

    example: re.Pattern[bytes]
    digits: U8
    data: Callable[[int], bytes]
    by_comma: bool = False


def spaced(last: int) -> Callable[[int], bytes]:
    """Bytes of two digits with blanks between them; what `last` is stands behind the last of them."""

    def data(length: int) -> bytes:
        return (bytes((DIGIT, DIGIT, BLANK)) * length)[:-1] + bytes((last,)) if length else bytes((last,))

    return data


def base64(length: int) -> bytes:
    """So many bytes in base64."""
    return bytes((DIGIT,)) * ((length * 4 + 2) // 3) + bytes((PAD,)) * (-length % 3) + bytes((END,))


def without_dull_lines(text: U8, dull: Dull, unwanted_11: Mask) -> Sifted | None:
    """Whole lines without dull ones, but the first and the last of these; None where all should be looked at.

    unwanted_11: as in skim.py.
    """
    newline = np.flatnonzero(text == NEWLINE)
    first = behind(newline)
    returns = int(np.count_nonzero(text == RETURN))
    if returns and (returns != len(newline) or (at(text, newline - 1) != RETURN).any()):
        return None
    place = _commas(text, first, newline) if dull.by_comma else first
    if place is None:
        return None
    left_out = _dull(np.concatenate([text, MARGIN]), place, newline, dull, unwanted_11)
    if left_out.any():
        left_out[[left_out.argmax(), len(left_out) - 1 - left_out[::-1].argmax()]] = False
    return pick(text, first, newline + 1, left_out)


def _commas(text: U8, first: I64, newline: I64) -> I64 | None:
    """The first comma of each line, where each has six."""
    comma = np.flatnonzero(text == COMMA)
    if len(comma) != 6 * len(first):
        return None
    start = comma[::6]
    return start if ((start >= first) & (comma[5::6] < newline)).all() else None


def _dull(text: U8, place: I64, newline: I64, dull: Dull, unwanted_11: Mask) -> Mask:
    found = np.zeros(len(place), np.bool_)
    left = np.arange(len(place))
    for _ in range(EXAMPLES):
        if not len(left):
            break
        middle = left[len(left) // 2]
        example = dull.example.match(text[place[middle] : newline[middle]].tobytes())
        if not example:
            break
        alike, unwanted = _like(text, place if len(left) == len(place) else place[left], example, dull, unwanted_11)
        found[left] = unwanted
        left = left[~alike]
    return found


def _like(text: U8, place: I64, example: re.Match[bytes], dull: Dull, unwanted_11: Mask) -> tuple[Mask, Mask]:
    """Which lines are built like the example; which of them are dull."""
    model, care = _model(example)
    seen = windows(text, place, model.size * WORD)
    different = np.zeros(len(place), np.uint64)
    for word in np.flatnonzero(care).tolist():
        different |= (seen.view(np.uint64)[:, word] ^ model[word]) & care[word]
    alike = different == 0
    length = seen[:, example.start("length")] - np.uint8(ord("0"))
    alike &= length < len(LENGTHS)
    due = _data_words(dull)
    data = dull.digits.take(windows(text, place + example.end(), due.shape[1] * WORD)).view(np.uint64)
    unwanted = alike & at(
        unwanted_11, hex_number(text, place + example.start("identifier"), len(example["identifier"]))
    )
    for word in range(due.shape[1]):
        expected = due[:, word].take(length, mode="clip")
        unwanted &= data[:, word] & expected == expected
    return alike, unwanted


def _model(example: re.Match[bytes]) -> tuple[Words, Words]:
    """The example in words, and which bits of them to care for: of a digit that may differ only that it is one."""
    size = -(-example.end() // WORD) * WORD
    care = bytearray(b"\xff" * example.end()).ljust(size, b"\0")
    for name in example.re.groupindex:
        nibble = b"\xf0" if name.startswith("number") else b"\0"
        start, end = example.span(name)
        care[start:end] = nibble * (end - start)
    model = example[0].ljust(size, b"\0")
    return np.frombuffer(model, np.uint64), np.frombuffer(bytes(care), np.uint64)


@lru_cache(maxsize=8)
def _data_words(dull: Dull) -> Words:
    """What the characters of the data must be, a row for each length."""
    rows = [dull.data(length) for length in LENGTHS]
    size = -(-max(map(len, rows)) // WORD) * WORD
    return np.frombuffer(b"".join(row.ljust(size, b"\0") for row in rows), np.uint64).reshape(len(rows), -1)


def _classes(digits: U8) -> U8:
    table = np.zeros(256, np.uint8)
    table[digits] |= DIGIT
    table[ord(" ")] = BLANK | APART
    table[[NEWLINE, RETURN]] = END | APART
    table[ord("=")] = PAD
    return table


_HEX_CLASSES, _SEXTET_CLASSES = _classes(HEX), _classes(SEXTET)
ASC = Dull(
    re.compile(
        rb" *(?P<number>\d+)\.(?P<number_>\d+) +\d +(?P<identifier>[0-9A-Fa-f]{1,3}) +[RT]x +d +"
        rb"(?P<length>\d)(?: |(?=\r?$))"
    ),
    _HEX_CLASSES,
    spaced(APART),
)
CSV = Dull(
    re.compile(rb",0x(?P<identifier>[0-9a-f]{1,3}),0,0,0,(?P<length>\d),"), _SEXTET_CLASSES, base64, by_comma=True
)
_TRC_PIECES = {
    "N": rb"(?P<number>\d+)\)?",
    "O": rb"(?P<number_>\d+)(?:\.(?P<number__>\d+))?",
    "T": rb"DT",
    "B": rb"\d",
    "d": rb"[RT]x",
    "I": rb"(?P<identifier>0?[0-9A-Fa-f]{3})",
    "l": rb"(?P<length>\d)",
    "L": rb"(?P<length>\d)",
}


def trc(columns: Mapping[str, int]) -> Dull:
    """By the columns that a file has; in one without a letter of these stands a '-'."""
    letter = {number: name for name, number in columns.items()}
    pieces = [_TRC_PIECES.get(letter.get(number, ""), rb"-") for number in range(columns["D"])]
    return Dull(re.compile(rb" *" + rb" +".join(pieces) + rb" +"), _HEX_CLASSES, spaced(END))
