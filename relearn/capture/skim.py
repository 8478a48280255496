"""Most lines of a busy bus are of no interest. Skimming leaves them out, at a fraction of what reading them would cost.

Only the log form is skimmed. A line is dull when it is a well-formed classic frame with an 11-bit identifier that
nobody asked for. Everything else, whatever is odd about it, stays and is read with care.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from relearn.capture.marks import BLANK, HASH, I64, NEWLINE, U8, Desk, Mask, at, behind, hex_number

START = re.compile(rb"\(\d{1,10}\.\d{1,9}(?P<closing>\)) +[^\s()#\[\]]+ [0-9A-Fa-f]{3}#")  # a line up to its data
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
    and the last of such lines stay, so that their times are learnt. All must be built like the first; where their
    marks do not add up, one is malformed, and all stay. So a line left out may still have a time or an interface in
    which one character was changed for another of its kind; nothing is read from it.
    """
    place = desk.places(text, NEWLINE, HASH)
    tail = np.flatnonzero(text.take(place) == NEWLINE)
    stop = place.take(tail)
    first, hash_place = behind(stop), place.take(behind(tail))  # the line's newline where it has no '#'
    last = at(text, stop - 1)
    directed = (last == ord("R")) | (last == ord("T"))
    dull = _classic(text, hash_place, stop, directed) & at(unwanted_11, hex_number(text, hash_place - 3, 3))
    example = int(dull.argmax())
    start = START.fullmatch(text[first[example] : hash_place[example] + 1].tobytes())
    if not start:
        return every_line(text, unwanted_11, desk)
    dull &= _built_like(start, text, first, hash_place)
    dull[[dull.argmax(), len(dull) - 1 - dull[::-1].argmax()]] = False
    sifted = _pick(text, first, stop, np.flatnonzero(~dull))
    marks = np.count_nonzero(desk.marks(text)) - np.count_nonzero(desk.marks(sifted.text))
    expected = (len(NO_MARK.sub(b"", start[0])) + 1) * np.count_nonzero(dull) + 2 * np.count_nonzero(directed & dull)
    return sifted if marks == expected else every_line(text, unwanted_11, desk)


def _classic(text: U8, hash_place: I64, stop: I64, directed: Mask) -> Mask:
    """Is there a blank before three digits before the '#', and behind it up to eight bytes of two characters each?"""
    characters = stop - hash_place - 1
    if directed.any():
        characters -= 2 * directed
    classic: Mask = (at(text, hash_place - 4) == BLANK) & (at(text, hash_place + 1) != HASH)
    classic &= (characters & 1 == 0) & (characters >= 0) & (characters <= 16)
    return classic


def _built_like(start: re.Match[bytes], text: U8, first: I64, hash_place: I64) -> Mask:
    """Has each line its '(', ')' and '#' where the example has them?"""
    alike: Mask = hash_place - first == len(start[0]) - 1
    alike &= (at(text, first) == ord("(")) & (at(text, first + start.start("closing")) == ord(")"))
    return alike


def _pick(text: U8, first: I64, stop: I64, rows: I64) -> Sifted:
    """Only these lines of a text."""
    size = stop[rows] + 1 - first[rows]
    shift = first[rows] - (np.cumsum(size) - size)
    return Sifted(text.take(np.arange(int(size.sum())) + np.repeat(shift, size)), rows, len(stop))
