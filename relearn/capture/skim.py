"""Most lines of a busy bus are of no interest. Skimming leaves them out, at a fraction of what reading them would cost.

Only the log form is skimmed. A line is dull when it is a well-formed classic frame with an 11-bit identifier that
nobody asked for. Everything else, whatever is odd about it, stays and is read with care.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from relearn.capture.marks import BLANK, HASH, I64, NEWLINE, U8, Desk, Mask, at, behind, hex_number

START = re.compile(rb"^\(\d{1,10}\.\d{1,9}(?P<closing>\)) +[^\s()#\[\]]+ [0-9A-Fa-f]{3}#", re.MULTILINE)
NO_MARK = re.compile(rb"[0-9A-Fa-f]+")
EXAMPLE_BYTES = 4096  # an example of a line up to its data is looked for in so much of a block


@dataclass(frozen=True, eq=False)
class Sifted:
    """What is left of a block: the lines to be read with care, which ones they are, how many lines there were."""

    text: U8
    rows: I64
    lines: int


def every_line(text: U8, unwanted_11: Mask, desk: Desk) -> Sifted:
    """Nothing left out."""
    lines = desk.count(text, NEWLINE)
    return Sifted(text.copy(), np.arange(lines), lines)


def without_dull_lines(text: U8, unwanted_11: Mask, desk: Desk) -> Sifted:
    """Whole lines of the log form without those that can be left out.

    unwanted_11: for each 11-bit identifier, and once for all that is none, is it valid and not asked for? The first
    and the last of such lines stay, so that their times are learnt. All must be built like the first; where their
    marks do not add up, one is malformed, and all stay. So a line left out may still have a time or an interface in
    which one character was changed for another of its kind; nothing is read from it.
    """
    start = START.search(text[:EXAMPLE_BYTES].tobytes())
    if not start:
        return every_line(text, unwanted_11, desk)
    hash_place, first, stop, dull = _alike(text, start, desk)
    last = at(text, stop - 2)
    directed = (last == ord("R")) | (last == ord("T"))
    dull &= _classic(text, hash_place, stop - 2 * directed if directed.any() else stop)
    dull &= _unwanted(text, hash_place - 3, unwanted_11)
    if len(dull):
        dull[[dull.argmax(), len(dull) - 1 - dull[::-1].argmax()]] = False
    sifted = pick(text, first, stop, dull)
    marks = np.count_nonzero(desk.marks(text)) - np.count_nonzero(desk.marks(sifted.text))
    expected = (len(NO_MARK.sub(b"", start[0])) + 1) * np.count_nonzero(dull) + 2 * np.count_nonzero(dull & directed)
    whole = marks == expected and sifted.lines == desk.count(text, NEWLINE)
    return sifted if whole else every_line(text, unwanted_11, desk)


def _alike(text: U8, start: re.Match[bytes], desk: Desk) -> tuple[I64, I64, I64, Mask]:
    """Pieces of the text, each from a line built like the example to the next such line.

    The place of its '#', its first byte, the byte behind its end; and is it a single line as far as its '#'s tell?
    """
    hash_place = np.flatnonzero(desk.equal(text, HASH))
    first = hash_place - (len(start[0]) - 1)
    begins = (at(text, first - 1) == NEWLINE) & (first > 0)
    begins[:1] |= first[:1] == 0
    begins &= at(text, first) == ord("(")
    begins &= at(text, first + (start.start("closing") - start.start())) == ord(")")
    if begins.all():
        return hash_place, first, np.append(first[1:], len(text)), begins
    row = np.flatnonzero(begins)
    one = np.diff(np.append(row, len(begins))) == 1
    return hash_place[row], first[row], np.append(first[row][1:], len(text)), one


def _classic(text: U8, hash_place: I64, end: I64) -> Mask:
    """Is there a blank before three digits before the '#', and behind it up to eight bytes of two characters each?"""
    characters = end - hash_place - 2
    classic: Mask = (characters & 1 == 0) & (characters >= 0) & (characters <= 16)
    classic &= at(text, hash_place - 4) == BLANK
    return classic


def _unwanted(text: U8, place: I64, unwanted_11: Mask) -> Mask:
    """Is the identifier of three digits at each place valid and not asked for? Mostly its first digit tells."""
    by_digit = np.zeros(256, np.bool_)
    by_digit[list(b"01234567")] = unwanted_11[:-1].reshape(8, -1).all(axis=1)
    unwanted: Mask = by_digit.take(at(text, place))
    rows = np.flatnonzero(~unwanted)
    unwanted[rows] = at(unwanted_11, hex_number(text, place[rows], 3))
    return unwanted


def pick(text: U8, first: I64, stop: I64, dull: Mask) -> Sifted:
    """What stands before the first piece, and the pieces that are not dull."""
    rest = np.flatnonzero(~dull)
    begin, end = np.append(0, first[rest]), np.append(first[0] if len(first) else len(text), stop[rest])
    size = end - begin
    place = np.cumsum(size) - size
    picked = text.take(np.arange(int(size.sum())) + np.repeat(begin - place, size))
    line = behind(np.flatnonzero(picked == NEWLINE))
    left_out = np.append(0, rest - np.arange(len(rest)))  # dull lines before each piece
    rows = np.arange(len(line)) + left_out[np.searchsorted(place, line, side="right") - 1]
    return Sifted(picked, rows, len(line) + len(dull) - len(rest))
