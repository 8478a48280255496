"""Most lines of a busy bus are of no interest. Skimming says which lines of a block can be left out with certainty.

Only the log form is skimmed. A line is dull when it is a well-formed classic frame with an 11-bit identifier that
nobody asked for. Everything else, whatever is odd about it, is passed on to be read with care.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from relearn.capture.marks import BLANK, HASH, I64, NEWLINE, U8, Desk, Mask, at, behind, hex_number


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
    and the last line always stay, so that their times are learnt. Where the marks of a block do not add up to as many
    as its lines should have, some line in it is malformed or of another shape, and all of them stay.
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
    dull &= (at(text, hash_place - 4) == BLANK) & (at(text, first) == ord("("))
    dull &= (characters & 1 == 0) & (characters >= 0) & (characters <= 16)
    dull &= _marks_add_up(text, hash_place, directed, desk)
    dull[[0, -1]] = False
    return _pick(text, first, stop, np.flatnonzero(~dull))


def _marks_add_up(text: U8, hash_place: I64, directed: Mask, desk: Desk) -> bool:
    """Are there as many bytes that are no hex digits as when each line is like the first up to its '#'?"""
    mark = desk.marks(text)
    in_first = np.count_nonzero(mark[: hash_place[0] + 1]) + 1
    expected = in_first * len(hash_place) + 2 * np.count_nonzero(directed)
    return bool(np.count_nonzero(mark) == expected)


def _pick(text: U8, first: I64, stop: I64, rows: I64) -> Sifted:
    """Only these lines of a text."""
    size = stop[rows] + 1 - first[rows]
    shift = first[rows] - (np.cumsum(size) - size)
    return Sifted(text.take(np.arange(int(size.sum())) + np.repeat(shift, size)), rows, len(stop))
