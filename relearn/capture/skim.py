"""Most lines of a busy bus are of no interest. Skimming leaves them out, at a fraction of what reading them would cost.

Only the log form is skimmed. A line is dull when it is a well-formed classic frame with an 11-bit identifier that
nobody asked for. Everything else, whatever is odd about it, stays and is read with care.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from relearn.capture.marks import BLANK, HASH, I64, NEWLINE, U8, Desk, Mask, at, behind, hex_number

START = re.compile(rb"(\()\d+(\.)\d+(\))( ) *[^\s()#\[\]]+ [0-9A-Fa-f]{3}#")  # a line up to its data
NO_MARK = re.compile(rb"[0-9A-Fa-f]+")


@dataclass(frozen=True, eq=False)
class Sifted:
    """What is left of a block: the lines to be read with care, which ones they are, how many lines there were."""

    text: U8
    rows: I64
    lines: int


def every_line(text: U8, unwanted_11: Mask, desk: Desk) -> Sifted:
    """Nothing left out."""
    lines = int(np.count_nonzero(text == NEWLINE))
    return Sifted(text.copy(), np.arange(lines), lines)


def without_dull_lines(text: U8, unwanted_11: Mask, desk: Desk) -> Sifted:
    """Whole lines of the log form without those that can be left out.

    unwanted_11: for each 11-bit identifier, and once for all that is none, is it valid and not asked for? The first
    and the last line always stay, so that their times are learnt. Dull lines must all be built like the first of them;
    where their marks do not add up, some line is malformed, and all of them stay. Of their times, only the marks are
    looked at: a hex letter among the digits of a time is not noticed in a line that is left out.
    """
    place = desk.places(text, NEWLINE, HASH)
    tail = np.flatnonzero(text.take(place) == NEWLINE)
    stop = place.take(tail)
    first = behind(stop)
    hash_place = place.take(behind(tail))  # the line's newline where it has none
    last = at(text, stop - 1)
    directed = (last == ord("R")) | (last == ord("T"))
    characters = stop - hash_place - 1
    if directed.any():
        characters -= 2 * directed
    dull = at(unwanted_11, hex_number(text, hash_place - 3, 3))
    dull &= (at(text, hash_place - 4) == BLANK) & (characters & 1 == 0) & (characters >= 0) & (characters <= 16)
    example = int(dull.argmax())
    start = text[first[example] : hash_place[example] + 1].tobytes()
    dull &= (hash_place - first == len(start) - 1) & (at(text, hash_place + 1) != HASH)
    whole = START.fullmatch(start)
    for mark in range(1, 5) if whole else ():
        dull &= at(text, first + whole.start(mark)) == start[whole.start(mark)]
    dull[[0, -1]] = False
    sifted = _pick(text, first, stop, np.flatnonzero(~dull))
    left_out = np.count_nonzero(desk.marks(text)) - np.count_nonzero(desk.marks(sifted.text))
    expected = (len(NO_MARK.sub(b"", start)) + 1) * np.count_nonzero(dull) + 2 * np.count_nonzero(directed & dull)
    return sifted if whole and left_out == expected else every_line(text, unwanted_11, desk)


def _pick(text: U8, first: I64, stop: I64, rows: I64) -> Sifted:
    """Only these lines of a text."""
    size = stop[rows] + 1 - first[rows]
    shift = first[rows] - (np.cumsum(size) - size)
    return Sifted(text.take(np.arange(int(size.sum())) + np.repeat(shift, size)), rows, len(stop))
