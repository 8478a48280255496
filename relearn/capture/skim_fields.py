"""Skimming ASC, TRC and CSV, as skim.py does for candump text: lines that nobody asked for are left out cheaply.

A line is dull when it is built like an example, character by character, up to its data, its data is well formed, and
its 11-bit identifier is not asked for. Some examples from a block stand for all its lines; whatever is like none of
them stays and is read with care.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache, partial

import numpy as np
from numpy.typing import NDArray

from relearn.capture.marks import (
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
    hex_value,
    windows,
)  # fmt: skip
from relearn.capture.skim import EXAMPLES, Sifted, by_examples, leave_ends, pick

DIGIT, BLANK, END, APART, PAD = 1, 2, 4, 8, 16  # what a character can be
WORD = 8  # bytes compared at once
LENGTHS = range(9)

Words = NDArray[np.uint64]
Pairs = NDArray[np.uint16]


@dataclass(frozen=True, eq=False)
class Dull:
    """How to tell dull lines of a format.

    example: a line up to its data, with the groups 'identifier' and 'length', and those for digits that differ, called
    'number' and the like. classes: what the characters of its data can be. data: what they must be.
    """

    example: re.Pattern[bytes]
    classes: Pairs
    data: Callable[[int], bytes]


def spaced(last: int) -> Callable[[int], bytes]:
    """Bytes of two digits with blanks between them; what `last` is stands behind the last of them."""

    def data(length: int) -> bytes:
        return (bytes((DIGIT, DIGIT, BLANK)) * length)[:-1] + bytes((last,)) if length else bytes((last,))

    return data


def base64(length: int) -> bytes:
    """So many bytes in base64."""
    return bytes((DIGIT,)) * ((length * 4 + 2) // 3) + bytes((PAD,)) * (-length % 3) + bytes((END,))


def without_dull_lines(text: U8, newline: I64, dull: Dull, unwanted_11: Mask, known: list[re.Match[bytes]]) -> Sifted:
    """Whole lines without dull ones, but the first and the last of these.

    newline: where the lines end. unwanted_11: as in skim.py. known: this file's examples so far, the commonest first;
    put in order anew, with room left for one more.
    """
    first = behind(newline)
    like = partial(_like, np.concatenate([text, MARGIN]), dull, unwanted_11)
    kind, examples = by_examples(text, dull.example, first, newline, like, known)
    count = np.bincount(kind, minlength=len(examples) + 1)[1:]
    known[:] = [examples[one] for one in np.argsort(-count, kind="stable").tolist() if count[one]][: EXAMPLES - 1]
    leave_ends(kind)
    return pick(text, first, newline, kind)


def _like(
    text: U8, dull: Dull, unwanted_11: Mask, example: re.Match[bytes], place: I64, newline: I64
) -> tuple[Mask, Mask]:
    """Which lines are built like the example; which of them are dull."""
    care, model = _model(example)
    seen = windows(text, place, model.size * WORD)
    alike = np.ones(len(place), np.bool_)
    for word in np.flatnonzero(care).tolist():
        alike &= seen.view(np.uint64)[:, word] & care[word] == model[word]
    rows = np.flatnonzero(alike)
    seen = seen if len(rows) == len(alike) else seen.take(rows, axis=0)
    unwanted = np.zeros(len(alike), np.bool_)
    unwanted[rows] = at(unwanted_11, hex_value(seen[:, slice(*example.span("identifier"))]))
    length = seen[:, example.start("length")] - np.uint8(ord("0"))
    unwanted[rows] &= _well_formed(text, place[rows] + example.end(), length, dull)
    return alike, unwanted


def _well_formed(text: U8, place: I64, length: U8, dull: Dull) -> Mask:
    """Is there data of this length at each place, and the line's end or what may come before it?"""
    due = _data_words(dull)
    written = windows(text, place, due.shape[1] * WORD)
    found = dull.classes.take(written.view(np.uint16)).view(np.uint64)
    fits: Mask = length < len(LENGTHS)
    for word in range(due.shape[1]):
        expected = due[:, word].take(length, mode="clip")
        fits &= found[:, word] & expected == expected
    return fits


def _model(example: re.Match[bytes]) -> tuple[Words, Words]:
    """Which bits to care for, in words, and what they are in the example; of a digit only that it is one."""
    size = -(-example.end() // WORD) * WORD
    care = bytearray(b"\xff" * example.end()).ljust(size, b"\0")
    for name in example.re.groupindex:
        nibble = b"\xf0" if name.startswith("number") else b"\0"
        start, end = example.span(name)
        care[start:end] = nibble * (end - start)
    bits = np.frombuffer(bytes(care), np.uint64)
    return bits, np.frombuffer(example[0].ljust(size, b"\0"), np.uint64) & bits


@lru_cache(maxsize=8)
def _data_words(dull: Dull) -> Words:
    """What the characters of the data must be, a row for each length."""
    rows = [dull.data(length) for length in LENGTHS]
    size = -(-max(map(len, rows)) // WORD) * WORD
    return np.frombuffer(b"".join(row.ljust(size, b"\0") for row in rows), np.uint64).reshape(len(rows), -1)


def _classes(digits: U8) -> Pairs:
    """What any two characters can be; two at once, as looking up takes most of the time."""
    table = np.zeros(256, np.uint8)
    table[digits] |= DIGIT
    table[ord(" ")] = BLANK | APART
    table[[NEWLINE, RETURN]] = END | APART
    table[ord("=")] = PAD
    return table.take(np.arange(1 << 16, dtype=np.uint16).view(np.uint8)).view(np.uint16)


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
    re.compile(rb"(?P<number>\d+)\.(?P<number_>\d+),0x(?P<identifier>[0-9a-f]{1,3}),0,0,0,(?P<length>\d),"),
    _SEXTET_CLASSES,
    base64,
)
_TRC_PIECES = {
    "N": rb"(?P<number>\d+)\)?",
    "O": rb"(?P<number_>\d+)(?:\.(?P<number__>\d+))?",
    "T": rb"DT",
    "B": rb"\d",
    "d": rb"[RT]x",
    "I": rb"0?(?P<identifier>[0-9A-Fa-f]{3})",
    "l": rb"(?P<length>\d)",
    "L": rb"(?P<length>\d)",
}


def trc(columns: Mapping[str, int]) -> Dull:
    """By the columns that a file has; in one without a letter of these stands a '-'."""
    letter = {number: name for name, number in columns.items()}
    pieces = [_TRC_PIECES.get(letter.get(number, ""), rb"-") for number in range(columns["D"])]
    return Dull(re.compile(rb" *" + rb" +".join(pieces) + rb" +"), _HEX_CLASSES, spaced(END))
