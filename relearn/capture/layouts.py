"""Where ASC, TRC and python-can's CSV have what, and all lines of a usual shape read at once.

A line that is not plainly a classic data frame of the layout is not judged here: its row is handed back. As in skim.py,
nothing is read from the time of a line that is not kept, so a wrong character in it goes unnoticed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import can
import numpy as np
from can.io.generic import TextIOMessageReader
from can.io.trc import TRCFileVersion
from numpy.typing import NDArray

from relearn.capture import skim_fields
from relearn.capture.assemble import LAST_S, Part
from relearn.capture.fields import (
    CLASSIC_BYTES,
    NO_NUMBER,
    Fields,
    Identifiers,
    base64_bytes,
    hex_numbers,
    in_range,
    spaced_bytes,
)
from relearn.capture.marks import BLANK, COMMA, I64, U8, Mask, at, digit_at, windows
from relearn.capture.messages import Gathered
from relearn.capture.skim_fields import Dull

TIME_CHARACTERS = 24
Times = NDArray[np.float64]
DIRECTIONS = frozenset({b"Rx", b"Tx"})


@dataclass(frozen=True)
class Layout:
    """Where a format has what, as numbers of fields.

    separator: a comma, or a blank for any stretch of blanks. seconds: python-can's, of the number in the field of the
    time. bus: None where there is none; channel: python-can's name of bus 0, or of the only one. words: fields that
    hold one of these words of one or two letters. data: the first field with it; packed: there is only one. exact: is
    there nothing behind the data? restart: a line that begins so changes the layout. whole: may a time have no
    fraction?
    """

    separator: int
    time: int
    seconds: Callable[[Times], Times]
    bus: int | None
    channel: int | None
    words: tuple[tuple[int, frozenset[bytes]], ...]
    length: int
    data: int
    identifiers: Callable[[Fields], Identifiers]
    read_data: Callable[[Fields, I64, int], tuple[U8, Mask]]
    dull: Dull
    packed: bool = False
    exact: bool = False
    restart: bytes = b""
    whole: bool = False


def sift(layout: Layout, fields: Fields, number: I64, gathered: Gathered) -> list[int] | None:
    """Gather the frames of usual lines, count them; the rows of all other lines. None: the layout changes here.

    number: per line, its number in the file.
    """
    length, fits = _usual(layout, fields)
    identifiers = layout.identifiers(fields)
    fits &= identifiers.fits
    data, well_formed = layout.read_data(fields, length, layout.data)
    fits &= well_formed
    wanted = gathered.keep.mask(identifiers.number.astype(np.uint32), identifiers.extended)
    timed = fits & wanted
    rows = np.flatnonzero(fits)
    timed[rows[[0, -1]] if len(rows) else rows] = True
    rows = np.flatnonzero(timed)
    time_ns, known = _times_ns(layout, fields, rows)
    fits[rows[~known]] = False
    odd = np.flatnonzero(~fits).tolist()
    if layout.restart and any(fields.line(row).lstrip().startswith(layout.restart) for row in odd):
        return None
    gathered.span.frames += int(np.count_nonzero(fits))
    for edge in np.flatnonzero(known)[[0, -1]] if known.any() else ():
        gathered.span.meet(int(number[rows[edge]]), int(time_ns[edge]))
    kept = known & wanted[rows]
    rows, time_ns = rows[kept], time_ns[kept]
    bus = _buses(layout, fields, rows, gathered)
    gathered.parts.append(
        Part(
            time_ns,
            number[rows],
            bus,
            identifiers.number[rows].astype(np.uint32),
            identifiers.extended[rows],
            length[rows].astype(np.uint8),
            data[rows],
        )
    )
    return odd


def _usual(layout: Layout, fields: Fields) -> tuple[I64, Mask]:
    """The length of each line's data, and are the fields there that are always the same?"""
    length = digit_at(fields.text, fields.place(layout.length)).astype(np.int64)
    fits: Mask = (fields.width(layout.length) == 1) & (length <= CLASSIC_BYTES)
    due = layout.data + (length > 0 if layout.packed else length)
    fits &= (fields.count == due) if layout.exact else (fields.count >= due)
    for number, words in layout.words:
        fits &= _is_one_of(fields, number, words)
    if layout.bus is not None:
        fits &= (fields.width(layout.bus) == 1) & (digit_at(fields.text, fields.place(layout.bus)) < 10)
    return length, fits


def _is_one_of(fields: Fields, number: int, words: frozenset[bytes]) -> Mask:
    place, width = fields.place(number), fields.width(number)
    first, second = at(fields.text, place), at(fields.text, place + 1)
    found = np.zeros(len(place), np.bool_)
    for word in words:
        found |= (width == len(word)) & (first == word[0]) & ((len(word) == 1) | (second == word[-1]))
    return found


def _times_ns(layout: Layout, fields: Fields, rows: I64) -> tuple[I64, Mask]:
    """As messages.py rounds them. Fit: digits with one dot between them."""
    width = fields.width(layout.time)[rows]
    place = np.arange(TIME_CHARACTERS)
    text = windows(fields.text, fields.place(layout.time)[rows], TIME_CHARACTERS)
    inside = place < width[:, None]
    text = np.where(inside, text, 0).astype(np.uint8)
    digits, dots = (text - np.uint8(ord("0"))) < 10, text == ord(".")
    fits = (width <= TIME_CHARACTERS) & (digits | dots | ~inside).all(axis=1)
    fits &= digits[:, 0] & digits[np.arange(len(rows)), np.clip(width - 1, 0, TIME_CHARACTERS - 1)]
    count = dots.sum(axis=1)
    fits &= (count == 1) | (layout.whole & (count == 0))
    text[~fits] = np.frombuffer(b"0".ljust(TIME_CHARACTERS, b"\0"), np.uint8)
    time_s = layout.seconds(text.view(f"S{TIME_CHARACTERS}").ravel().astype(np.float64))
    fits &= (time_s >= 0) & (time_s <= LAST_S)
    return np.rint(np.where(fits, time_s, 0) * 1e6).astype(np.int64) * 1000, fits


def _buses(layout: Layout, fields: Fields, rows: I64, gathered: Gathered) -> I64:
    if layout.bus is None:
        return np.full(len(rows), gathered.buses.setdefault(layout.channel, len(gathered.buses)), np.int64)
    digit = digit_at(fields.text, fields.place(layout.bus)[rows]).astype(np.int64)
    numbers = np.zeros(10, np.int64)
    for each in np.flatnonzero(np.bincount(digit)).tolist():
        numbers[each] = gathered.buses.setdefault(each - (layout.channel or 0), len(gathered.buses))
    return numbers[digit]


def _asc_identifiers(fields: Fields) -> Identifiers:
    place, width = fields.place(2), fields.width(2)
    extended = at(fields.text, place + width - 1) == ord("x")
    return in_range(hex_numbers(fields.text, place, width - extended), extended)


def _csv_identifiers(fields: Fields) -> Identifiers:
    place, width = fields.place(1), fields.width(1)
    prefixed = (at(fields.text, place) == ord("0")) & (at(fields.text, place + 1) == ord("x"))
    number = np.where(prefixed, hex_numbers(fields.text, place + 2, width - 2), NO_NUMBER)
    return in_range(number, at(fields.text, fields.place(2)) == ord("1"))


def _trc_identifiers(field: int) -> Callable[[Fields], Identifiers]:
    def identifiers(fields: Fields) -> Identifiers:
        width = fields.width(field)
        return in_range(hex_numbers(fields.text, fields.place(field), width), width > 4)

    return identifiers


def _as_it_is(time_s: Times) -> Times:
    return time_s


def layout(reader: TextIOMessageReader) -> Layout | None:
    """The layout that a reader has found in its header; None for one without usual lines."""
    if isinstance(reader, can.CSVReader):
        return CSV
    if isinstance(reader, can.ASCReader):
        return ASC if reader.base == "hex" else None
    return _trc(reader) if isinstance(reader, can.TRCReader) else None


ASC = Layout(
    BLANK, 0, _as_it_is, bus=1, channel=1, words=((3, DIRECTIONS), (4, frozenset({b"d"}))), length=5, data=6,
    identifiers=_asc_identifiers, read_data=spaced_bytes, dull=skim_fields.ASC,
)  # fmt: skip
CSV = Layout(
    COMMA, 0, _as_it_is, bus=None, channel=None,
    words=((2, frozenset({b"0", b"1"})), (3, frozenset({b"0"})), (4, frozenset({b"0"}))), length=5, data=6,
    identifiers=_csv_identifiers, read_data=base64_bytes, dull=skim_fields.CSV, packed=True, exact=True,
)  # fmt: skip
_TRC_FIELDS = {
    TRCFileVersion.UNKNOWN: {"N": 0, "O": 1, "I": 2, "L": 3, "D": 4},
    TRCFileVersion.V1_0: {"N": 0, "O": 1, "I": 2, "L": 3, "D": 4},
    TRCFileVersion.V1_1: {"N": 0, "O": 1, "d": 2, "I": 3, "L": 4, "D": 5},
    TRCFileVersion.V1_3: {"N": 0, "O": 1, "B": 2, "d": 3, "I": 4, "L": 6, "D": 7},
}


def _trc(reader: can.TRCReader) -> Layout | None:
    """Columns by their letters, which a header of version 2 lists."""
    columns = _TRC_FIELDS.get(reader.file_version, reader.columns)
    length = columns.get("l", columns.get("L", -1))
    if (
        not {"O", "I", "D"} <= set(columns)
        or length < 0
        or {"l", "L"} <= set(columns)
        or columns["D"] != max(columns.values())
    ):
        return None
    words = [
        (columns[letter], one) for letter, one in (("d", DIRECTIONS), ("T", frozenset({b"DT"}))) if letter in columns
    ]
    unknown_start = reader.file_version in (TRCFileVersion.UNKNOWN, TRCFileVersion.V1_0) or not reader.start_time
    start_s = 0.0 if unknown_start or reader.start_time is None else reader.start_time.timestamp()
    return Layout(
        BLANK,
        columns["O"],
        lambda time_ms: time_ms / 1000 + start_s,
        bus=columns.get("B"),
        channel=0 if "B" in columns else 1,
        words=tuple(words),
        length=length,
        data=columns["D"],
        identifiers=_trc_identifiers(columns["I"]),
        read_data=spaced_bytes,
        dull=skim_fields.trc(columns),
        exact=True,
        restart=b";$",
        whole=True,
    )
