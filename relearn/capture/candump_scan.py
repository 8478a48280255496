"""Lines of candump text into frames: all lines of a usual shape at once, what is left over one by one."""

from __future__ import annotations

from codecs import BOM_UTF8
from dataclasses import dataclass, field

import numpy as np

from relearn.capture import assemble, marks
from relearn.capture.assemble import MAX_11, MAX_29, Part, Row, Span
from relearn.capture.candump_forms import BETWEEN, DROPPED, ERROR_BITS, Fit, Form, Line, is_error
from relearn.capture.keep import Keep
from relearn.capture.marks import I64, Block, Mask

NAME_BYTES = 40  # room for what stands between time and identifier: an interface name of Linux has at most 15


@dataclass
class Reading:
    """What has been gathered from a file so far. keep_11: for each 11-bit identifier, is it to be kept?"""

    form: Form
    keep: Keep
    keep_11: Mask
    buses: dict[bytes, int] = field(default_factory=dict)
    parts: list[Part] = field(default_factory=list)
    span: Span = field(default_factory=Span)
    error_frames: int = 0
    dropped_frames: int = 0

    def bus(self, name: bytes) -> int:
        """The number of an interface."""
        return self.buses.setdefault(name, len(self.buses))


def reading(form: Form, keep: Keep) -> Reading:
    """Nothing gathered yet."""
    every_11 = np.arange(MAX_11 + 1, dtype=np.uint32)
    return Reading(form, keep, keep.mask(every_11, np.zeros(len(every_11), np.bool_)))


def scan(reading: Reading, block: Block) -> list[int]:
    """Gather a block's frames, count the others; the numbers of its malformed lines."""
    fit = reading.form.fit(block)
    identifier, wanted, fits = _identify(reading, block, fit)
    rows = np.flatnonzero(fits)
    time_ns, timed = _times(block, fit, rows)
    bus = _buses(reading, block, fit, rows)
    read = timed & (bus >= 0)
    reading.span.frames += int(np.count_nonzero(read))
    for edge in np.flatnonzero(read)[[0, -1]] if read.any() else ():
        reading.span.meet(int(block.number[rows[edge]]), int(time_ns[edge]))
    kept = read & wanted[rows]
    _keep(reading, block, fit, rows[kept], (time_ns[kept], bus[kept], identifier[rows[kept]]))
    reading.error_frames += int(np.count_nonzero(read & (identifier[rows] >> 29 == ERROR_BITS)))
    fits[rows[~read]] = False
    return _read_odd(reading, block, np.flatnonzero(~fits))


def _identify(reading: Reading, block: Block, fit: Fit) -> tuple[I64, Mask, Mask]:
    """Per line: its identifier, is it to be kept, does the line still fit."""
    identifier = marks.hex_number(block.text, fit.identifier, 3)
    short = fit.digits == 3
    wanted = marks.at(reading.keep_11, identifier) & short
    fits = fit.fits & ((identifier <= MAX_11) | ~short)
    long = np.flatnonzero(fits & ~short)
    number = marks.hex_number(block.text, fit.identifier[long], 8)
    identifier[long] = number
    error = number >> 29 == ERROR_BITS
    fits[long] = error | (number <= MAX_29)
    wanted[long] = ~error & reading.keep.mask(number.astype(np.uint32), np.ones(len(long), np.bool_))
    return identifier, wanted, fits


def _keep(reading: Reading, block: Block, fit: Fit, rows: I64, known: tuple[I64, I64, I64]) -> None:
    """Gather the frames of these lines; known: their times, buses and identifiers."""
    time_ns, bus, identifier = known
    length = fit.length[rows]
    width = assemble.data_width(int(length.max(initial=0)))
    data = marks.hex_bytes(block.text, fit.data[rows], reading.form.step, length, width)
    reading.parts.append(
        Part(
            time_ns,
            block.number[rows],
            bus,
            identifier.astype(np.uint32),
            fit.digits[rows] == 8,
            length.astype(np.uint8),
            data,
        )
    )


def _times(block: Block, fit: Fit, rows: I64) -> tuple[I64, Mask]:
    opening = fit.opening[rows]
    return marks.time_ns(block.text, block.place[opening], block.place[opening + 1], block.place[opening + 2])


def _buses(reading: Reading, block: Block, fit: Fit, rows: I64) -> I64:
    """The number of the interface named between time and identifier; -1 where something else stands there."""
    first = block.place[fit.opening[rows] + 3] + 1
    gap = fit.identifier[rows] - first
    width = min(NAME_BYTES, max(1, int(gap.max(initial=1))))
    text = marks.windows(block.text, first, width)
    text[np.arange(width) >= gap[:, None]] = 0
    distinct, inverse = _distinct(text)
    named = [BETWEEN.fullmatch(bytes(between)) for between in distinct]
    numbers = np.array([reading.bus(name["bus"]) if name else -1 for name in named], np.int64)
    return np.where(gap <= NAME_BYTES, numbers[inverse], -1)


def _distinct(text: marks.U8) -> tuple[list[bytes], I64]:
    """The distinct rows of a byte matrix without the zeros behind them, and which of them each row is."""
    if len(text) and (text == text[0]).all():
        return [text[0].tobytes().rstrip(b"\0")], np.zeros(len(text), np.int64)
    distinct, inverse = np.unique(text.view(f"S{text.shape[1]}").ravel(), return_inverse=True)
    return distinct.tolist(), inverse.astype(np.int64)


def _read_odd(reading: Reading, block: Block, rows: I64) -> list[int]:
    """Gather the frames of lines of no usual shape, one by one; the numbers of those that are malformed."""
    kept: list[Row] = []
    malformed = []
    for row in rows.tolist():
        number = int(block.number[row])
        text = block.line(row).removeprefix(BOM_UTF8 if number == 1 else b"")
        line = reading.form.read_line(text)
        if line:
            reading.span.frames += 1
            reading.span.meet(number, line.time_ns)
            kept += _row(reading, line, number)
        elif dropped := DROPPED.fullmatch(text):
            reading.dropped_frames += int(dropped[1])
        elif not reading.form.skips.fullmatch(text):
            malformed.append(number)
    reading.parts.append(assemble.part(kept))
    return malformed


def _row(reading: Reading, line: Line, number: int) -> list[Row]:
    """The frame of one line if it is to be kept. Counts error frames."""
    if line.extended and is_error(line.identifier):
        reading.error_frames += 1
        return []
    wanted = reading.keep.mask(np.array([line.identifier], np.uint32), np.array([line.extended]))
    if line.data is None or not wanted[0]:
        return []
    return [Row(line.time_ns, number, reading.bus(line.bus), line.identifier, line.extended, line.data)]
