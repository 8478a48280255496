"""The two forms of candump text: the log form (`candump -L`, `-l`) and the plain form (`candump -t a`).

Each form knows its lines twice: `fit` looks at all lines of a block at once through their marks and says which have the
usual shape and where their fields are; `read_line` reads any single line carefully, for the few that are left over.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from relearn.capture.assemble import FD_LENGTHS, LAST_S, MAX_11, MAX_29
from relearn.capture.marks import BLANK, HASH, I64, RETURN, U8, Block, Desk, Mask, at, digit_at
from relearn.capture.skim import Sifted, every_line, without_dull_lines

ERROR_BITS = 0b001  # what stands above the 29 bits in an error frame's identifier (CAN_ERR_FLAG, Linux's linux/can.h)
QUOTE = ord("'")
_FD_LENGTH = np.isin(np.arange(129), FD_LENGTHS)


@dataclass(frozen=True, eq=False)
class Fit:
    """Per line of a block: does it have the form's usual shape, and if so, where its fields are.

    opening: the mark '(' before the time, followed by the marks '.', ')' and a blank. identifier: the place of its
    first digit; digits: how many, 3 or 8. data: the place of the first data byte; length: how many bytes.
    """

    fits: Mask
    opening: I64
    identifier: I64
    digits: I64
    data: I64
    length: I64


@dataclass(frozen=True)
class Line:
    """One frame read on its own. data is None for a remote frame; an error frame is told by its identifier."""

    time_ns: int
    bus: bytes
    identifier: int
    extended: bool
    data: bytes | None


@dataclass(frozen=True)
class Form:
    """A form of candump text.

    step: characters from one data byte to the next. sift: leaves out lines nobody asked for. pattern, body: a line, and
    what follows its identifier. skips: lines that are no frames and not malformed.
    """

    step: int
    sift: Callable[[U8, Mask, Desk], Sifted]
    fit: Callable[[Block], Fit]
    pattern: re.Pattern[bytes]
    body: re.Pattern[bytes]
    skips: re.Pattern[bytes]

    def read_line(self, text: bytes) -> Line | None:
        """One line read with care; None when it is malformed."""
        found = self.pattern.fullmatch(text)
        body = self.body.fullmatch(found["body"]) if found else None
        if not found or not body:
            return None
        time_ns = _line_time_ns(found["time"])
        identifier, extended = int(found["identifier"], 16), len(found["identifier"]) == 8
        data = bytes.fromhex(body["data"].decode()) if body["data"] is not None else None
        fits = _length_fits(data, found.groupdict().get("length"), fd=bool(body.groupdict().get("fd")))
        if time_ns is None or not _identifier_fits(identifier, extended) or not fits:
            return None
        return Line(time_ns, found["bus"], identifier, extended, data)


def _length_fits(data: bytes | None, stated: bytes | None, *, fd: bool) -> bool:
    if data is None:
        return True
    allowed = FD_LENGTHS if fd or (stated is not None and len(stated) == 2) else FD_LENGTHS[:9]
    return len(data) in allowed and (stated is None or int(stated) == len(data))


def _identifier_fits(identifier: int, extended: bool) -> bool:
    return identifier <= (MAX_29 if extended else MAX_11) or (extended and is_error(identifier))


def is_error(identifier: int) -> bool:
    """Is this, of 8 digits, the identifier of an error frame?"""
    return identifier >> 29 == ERROR_BITS


def _line_time_ns(text: bytes) -> int | None:
    """Nanoseconds of 'seconds.fraction', or of a date and time of day in this computer's zone (`-t A`)."""
    if found := re.fullmatch(rb"(\d{1,10})(?:\.(\d{1,9}))?", text):
        time_ns = int(found[1]) * 1_000_000_000 + int((found[2] or b"0").ljust(9, b"0"))
        return time_ns if int(found[1]) <= LAST_S else None
    try:
        return round(datetime.fromisoformat(text.decode("ascii")).timestamp() * 1e6) * 1000
    except (ValueError, OverflowError):
        return None


def fit_log(block: Block) -> Fit:
    """Lines such as '(1700000000.123456) can0 7E8#0341…', CAN FD '7E8##1…', with or without a last ' R' or ' T'."""
    kind, place = block.kind, block.place
    tail = _without_direction(block, _without_return(block))
    fd = at(kind, tail - 2) == HASH
    before = tail - 2 - fd
    fits = _time_fits(block, block.head) & (before > block.head + 3)
    fits &= (at(kind, tail - 1) == HASH) & (at(kind, before) == BLANK)
    fits &= ~fd | (at(place, tail - 2) + 1 == at(place, tail - 1))
    identifier = at(place, before) + 1
    digits = at(place, before + 1) - identifier
    data = at(place, tail - 1) + 1 + fd
    characters = at(place, tail) - data
    length = characters >> 1
    fits &= ((digits == 3) | (digits == 8)) & (characters >= 0) & (characters & 1 == 0)
    fits &= (length <= 8) | (fd & at(_FD_LENGTH, length))
    return Fit(fits, block.head, identifier, digits, data, length)


def fit_plain(block: Block) -> Fit:
    """Lines such as ' (1700000000.123456)  can0  7E8   [8]  03 41 …', CAN FD '7E8  [08]  …'.

    `-x` adds direction and flags before the identifier, `-a` the data as characters in quotes behind it.
    """
    kind, place = block.kind, block.place
    tail = _without_blanks(block, _without_return(block))
    opening = block.head + (at(kind, block.head) == BLANK)
    brackets = np.append(np.flatnonzero(kind == ord("[")), len(kind))
    bracket = at(brackets, np.searchsorted(brackets, opening))
    closing = at(place, bracket + 1)
    width = closing - at(place, bracket) - 1
    length, fits = _stated_length(block, at(place, bracket) + 1, width)
    fits &= (bracket < tail) & (length >= 1)
    fits &= at(_FD_LENGTH, length) & ((length <= 8) | (width == 2))
    blanks = 4 - width  # '7E8   [8]' but '7E8  [08]'
    fits &= _time_fits(block, opening) & (bracket - blanks - 1 > opening + 3)
    fits &= at(kind, bracket + 1) == ord("]")
    for back in range(1, 5):
        fits &= (back > blanks + 1) | (at(kind, bracket - back) == BLANK)
    end = at(place, bracket - blanks)
    identifier = at(place, bracket - blanks - 1) + 1
    fits &= end == at(place, bracket) - blanks
    digits = end - identifier
    fits &= (digits == 3) | (digits == 8)
    fits &= _pairs_fit(block, bracket + 3, closing + 2, length) & _rest_fits(block, bracket + 3 + length, tail, length)
    return Fit(fits, opening, identifier, digits, closing + 3, length)


def _stated_length(block: Block, first: I64, width: I64) -> tuple[I64, Mask]:
    """The number of one or two decimal digits in the brackets, and whether it is one."""
    one, two = (digit_at(block.text, place).astype(np.int64) for place in (first, first + 1))
    return np.where(width == 1, one, one * 10 + two), (one < 10) & ((width == 1) | ((width == 2) & (two < 10)))


def _time_fits(block: Block, opening: I64) -> Mask:
    """Does each line begin '(', digits, '.', digits, ') '? One leading blank is the caller's business."""
    fits: Mask = at(block.place, opening) == block.first + (opening - block.head)
    for offset, mark in enumerate(b"(.) "):
        fits &= at(block.kind, opening + offset) == mark
    fits &= at(block.place, opening + 3) == at(block.place, opening + 2) + 1
    return fits


def _without_return(block: Block) -> I64:
    returned = at(block.kind, block.tail - 1) == RETURN
    returned &= at(block.place, block.tail - 1) == block.stop - 1
    tail: I64 = block.tail - returned
    return tail


def _without_direction(block: Block, tail: I64) -> I64:
    """Each line's end without a last ' R' or ' T' (received, sent)."""
    last = at(block.kind, tail - 1)
    directed = (last == ord("R")) | (last == ord("T"))
    if not directed.any():
        return tail
    directed &= (at(block.kind, tail - 2) == BLANK) & (at(block.place, tail) == at(block.place, tail - 2) + 2)
    trimmed: I64 = tail - 2 * directed
    return trimmed


def _without_blanks(block: Block, tail: I64) -> I64:
    """Each line's end without up to four trailing blanks."""
    for _ in range(4):
        tail = tail - ((at(block.kind, tail - 1) == BLANK) & (at(block.place, tail - 1) == at(block.place, tail) - 1))
    return tail


def _pairs_fit(block: Block, mark: I64, place: I64, length: I64) -> Mask:
    """Do two hex digits follow each blank, `length` times, from the second of two blanks at a place?"""
    fits: Mask = (at(block.place, mark - 1) == place - 1) & (at(block.kind, mark - 1) == BLANK)
    for byte in range(int(length.max(initial=0)) + 1):
        fits &= (byte > length) | (at(block.place, mark + byte) == place + 3 * byte)
        fits &= (byte >= length) | (at(block.kind, mark + byte) == BLANK)
    return fits


def _rest_fits(block: Block, mark: I64, tail: I64, length: I64) -> Mask:
    """Nothing behind the data, or blanks and as many characters in quotes as there are bytes (`-a`)."""
    fits: Mask = mark == tail
    quoted = np.flatnonzero((mark < tail) & (at(block.kind, tail - 1) == QUOTE))
    quote = at(block.place, tail[quoted]) - length[quoted] - 2
    start = at(block.place, mark[quoted])
    fits[quoted] = (at(block.text, quote) == QUOTE) & (quote > start)
    for blank in range(int((quote - start).max(initial=0))):
        fits[quoted] &= (start + blank >= quote) | (at(block.text, start + blank) == BLANK)
    return fits


_BUS = rb"\s*(?P<bus>[^\s()#\[\]]+)\s+(?:[RT]X\s+[-B]\s+[-E]\s+)?"  # `-x` adds direction and CAN FD flags
_START = rb"\s*\((?P<time>[^()]*)\)\s" + _BUS
_IDENTIFIER = rb"(?P<identifier>[0-9A-Fa-f]{8}|[0-9A-Fa-f]{3})"
_BYTES = rb"(?P<data>(?:[0-9A-Fa-f]{2}\s?)*)"
FORMS = {
    "log": Form(
        step=2,
        sift=without_dull_lines,
        fit=fit_log,
        pattern=re.compile(_START + _IDENTIFIER + rb"#(?P<body>\S*)(?:\s+[RrTt])?\s*"),
        body=re.compile(
            rb"(?P<fd>#[0-9A-Fa-f])?(?P<data>(?:[0-9A-Fa-f]{2})*)(?:_[9A-Fa-f])?"
            rb"|[Rr][0-9A-Fa-f]?(?:_[9A-Fa-f])?"
        ),
        skips=re.compile(rb"\s*"),
    ),
    "plain": Form(
        step=3,
        sift=every_line,
        fit=fit_plain,
        pattern=re.compile(_START + _IDENTIFIER + rb"\s+\[(?P<length>\d{1,2})\](?P<body>.*)"),
        body=re.compile(rb"\s*" + _BYTES + rb"\s*(?:'.*'|ERRORFRAME)?\s*|\s+remote request\s*"),
        skips=re.compile(rb"\s*|\t.*"),  # the lines under an ERRORFRAME that spell it out
    ),
}
BETWEEN = re.compile(_BUS)  # all that stands between time and identifier
DROPPED = re.compile(rb"DROPCOUNT: dropped (\d{1,10}) CAN frames? on .*")  # `-d`: the computer was too slow
UNTIMED = re.compile(rb"\s*[^\s()#]+\s+(?:[0-9A-Fa-f]{8}|[0-9A-Fa-f]{3})\s+\[\d{1,2}\].*")


def recognise(lines: list[bytes]) -> str | None:
    """'log', 'plain', 'untimed' (the plain form without times) by the first line that has one of these forms."""
    for line in lines:
        for name, form in FORMS.items():
            if form.read_line(line):
                return name
        if UNTIMED.fullmatch(line):
            return "untimed"
    return None
