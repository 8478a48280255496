"""All usual lines of ASC, TRC and python-can's CSV read at once, by their layout; the others are handed back.

A line that is not plainly a classic data frame of the layout is not judged here.
"""

from __future__ import annotations

import numpy as np

from relearn.capture.assemble import LAST_S, Part
from relearn.capture.fields import CLASSIC_BYTES, Fields, decimals
from relearn.capture.layouts import Layout
from relearn.capture.marks import I64, Mask, at, digit_at
from relearn.capture.messages import Gathered

COMMENT = ord(";")
ASCII = 0x7F


def sift(layout: Layout, fields: Fields, number: I64, gathered: Gathered) -> list[int]:
    """Gather the frames of usual lines, count them; the rows of all other lines.

    number: per line, its number in the file.
    """
    length, fits = _usual(layout, fields)
    identifiers = layout.identifiers(fields)
    fits &= identifiers.fits
    data, well_formed = layout.read_data(fields, length, layout.data)
    fits &= well_formed
    wanted = gathered.keep.mask(identifiers.number.astype(np.uint32), identifiers.extended)
    rows = np.flatnonzero(fits)
    time_ns, known = _times_ns(layout, fields, rows)
    fits[rows[~known]] = False
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
    return np.flatnonzero(~fits).tolist()


def _usual(layout: Layout, fields: Fields) -> tuple[I64, Mask]:
    """The length of each line's data, and are the fields there that are always the same?"""
    length = digit_at(fields.text, fields.place(layout.length)).astype(np.int64)
    fits: Mask = (fields.width(layout.length) == 1) & (length <= CLASSIC_BYTES)
    fits &= at(fields.text, fields.place(0)) != COMMENT
    fits[np.searchsorted(fields.end, np.flatnonzero(fields.text > ASCII))] = False  # there are blanks beyond it
    due = layout.data + (1 if layout.packed else length)
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
    """As messages.py rounds them. Fit: digits with one dot between them, or none where the layout knows such."""
    place, width = fields.place(layout.time)[rows], fields.width(layout.time)[rows]
    number, fits = decimals(fields.text, place, width, least_dots=0 if layout.whole else 1)
    time_s = layout.seconds(number)
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
