"""Most lines of a busy bus are of no interest. Skimming leaves them out, at a fraction of what reading them would cost.

Here for the log form of candump. A line is dull when it is a well-formed classic frame with an 11-bit identifier that
nobody asked for. Everything else, whatever is odd about it, stays and is read with care.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from relearn.capture.marks import BLANK, HASH, I64, NEWLINE, U8, Desk, Mask, at, behind, hex_number, places

Kinds = NDArray[np.uint8]
EXAMPLES = 5  # more kinds of lines in one block are read with care
LONGEST = 200  # letters of an example; all else is read with care
EXAMPLE = re.compile(
    rb"\(\d{1,10}\.\d{1,9}(?P<closing>\)) +[^\s()#\[\]]+ (?P<identifier>[0-9A-Fa-f]{3})(?P<hash>#)[0-9A-Fa-f]*"
    rb"(?P<tail>(?: [RT])?\r?)$"
)
NO_MARK = re.compile(rb"[0-9A-Fa-f]+")
CHARACTERS = 16  # of a classic frame's data, at most
DIRECTIONS = b"RT"


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
    and the last of such lines stay, so that their times are learnt. Where the marks of the others do not add up, one is
    malformed, and all stay. So a line left out may still have a time or an interface in which one character was changed
    for another of its kind, or two damages that make up for each other in the sum; nothing is read from it.
    """
    newline = places(desk.equal(text, NEWLINE))
    first = behind(newline)
    kind, examples = by_examples(text, EXAMPLE, first, newline, partial(_like, text, unwanted_11))
    leave_ends(kind)
    sifted = pick(text, first, newline, kind)
    marks = np.count_nonzero(desk.marks(text)) - np.count_nonzero(desk.marks(sifted.text))
    due = sum(
        (len(NO_MARK.sub(b"", example[0])) + 1) * np.count_nonzero(kind == number)
        for number, example in enumerate(examples, 1)
    )
    return sifted if marks == due else every_line(text, unwanted_11, desk)


def by_examples(
    text: U8,
    form: re.Pattern[bytes],
    place: I64,
    end: I64,
    like: Callable[[re.Match[bytes], I64, I64], tuple[Mask, Mask]],
    known: Sequence[re.Match[bytes]] = (),
) -> tuple[Kinds, list[re.Match[bytes]]]:
    """Which lines are dull: a line of the form stands for all those like it, then one of the others, and so on.

    place, end: per line, from where it is looked at, and its newline. like: which of some lines are built like an
    example, and which of those are dull. known: examples to begin with. Returns 0 for each line that is not dull, else
    1 + which example it is like.
    """
    kind, left, examples = np.zeros(len(place), np.uint8), np.arange(len(place)), []
    for turn in range(EXAMPLES):
        if not len(left):
            break
        middle = len(left) // 2
        text_of_middle = text[place[left[middle]] : end[left[middle]]]
        example = known[turn] if turn < len(known) else form.match(text_of_middle.tobytes())
        if not example or len(example[0]) > LONGEST:  # a damaged line is no example
            left = np.delete(left, middle)
            continue
        examples.append(example)
        rows = slice(None) if len(left) == len(place) else left
        alike, dull = like(example, place[rows], end[rows])
        kind[rows] = dull * np.uint8(len(examples))
        left = left[~alike]
    return kind, examples


def _like(text: U8, unwanted_11: Mask, example: re.Match[bytes], first: I64, newline: I64) -> tuple[Mask, Mask]:
    """Which lines have their marks where the example has them, as far as the data; which of them are dull."""
    hash_at = example.start("hash")
    alike: Mask = at(text, first) == ord("(")
    for place, mark in ((example.start("closing"), ord(")")), (hash_at - 4, BLANK), (hash_at, HASH)):
        alike &= at(text[place:], first) == mark
    tail = example["tail"]
    for place, byte in enumerate(tail, -len(tail)):
        last = at(text, newline + place)
        alike &= np.isin(last, list(DIRECTIONS)) if byte in DIRECTIONS else last == byte
    characters = (newline - first - (hash_at + 1 + len(tail))).view(np.uint64)  # what is negative becomes very large
    unwanted = _unwanted(text[hash_at - 3 :], first, unwanted_11)
    return alike, alike & (characters <= CHARACTERS) & (characters & 1 == 0) & unwanted


def _unwanted(text: U8, place: I64, unwanted_11: Mask) -> Mask:
    """Is the identifier, of three digits from each place, valid and not asked for? Mostly its first digit tells."""
    digits = int((~unwanted_11).argmax()) >> 8  # so many of the first digits are all unwanted
    unwanted: Mask = at(text, place) - np.uint8(ord("0")) < digits
    rows = np.flatnonzero(~unwanted)
    unwanted[rows] = at(unwanted_11, hex_number(text, place[rows], 3))
    return unwanted


def leave_ends(kind: Kinds) -> None:
    """Let the first and the last dull line stay."""
    dull = kind > 0
    if dull.any():
        kind[dull.argmax()] = kind[len(kind) - 1 - dull[::-1].argmax()] = 0


def pick(text: U8, first: I64, newline: I64, kind: Kinds) -> Sifted:
    """The lines that are not dull."""
    rows = np.flatnonzero(kind == 0)
    size = newline[rows] + 1 - first[rows]
    shift = first[rows] - (np.cumsum(size) - size)
    return Sifted(text.take(np.arange(int(size.sum())) + np.repeat(shift, size)), rows, len(kind))
