"""candump text, read fast: the diagnostic frames of a whole busy bus without a Python object for each frame.

The file goes by in blocks; each is looked at through its marks (marks.py), all lines at once. Lines of an unusual shape
are read one by one (candump_forms.py); those that are no frame at all are counted and become one fault.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

import numpy as np

from relearn.capture import assemble, files, marks
from relearn.capture.assemble import MAX_11, MAX_29, Part, Row, Span, Tally
from relearn.capture.candump_forms import ERROR_FLAG, FORMS, Fit, Form, Line, recognise
from relearn.capture.frames import Capture
from relearn.capture.keep import KEEP_DIAGNOSTIC, Keep
from relearn.capture.marks import I64, U8, Block, Mask
from relearn.errors import CaptureError
from relearn.faults import Fault

BLOCK_BYTES = 512 * 1024  # small enough that a block and the work on it stay in the processor's cache
HEAD_BYTES = 64 * 1024
NAME_BYTES = 32  # an interface name of Linux has at most 15
_BETWEEN = np.isin(np.arange(256), list(b" RTXBE-"))  # `candump -x` writes 'RX B E' between interface and identifier
_IN_NAME = np.array([byte > 0x20 and byte not in b"()#[]" for byte in range(256)])


@dataclass
class _Reading:
    """What has been gathered from a file so far."""

    form: Form
    keep: Keep
    keep_11: Mask
    buses: dict[bytes, int] = field(default_factory=dict)
    parts: list[Part] = field(default_factory=list)
    span: Span = field(default_factory=Span)
    malformed: Tally = field(default_factory=Tally)
    error_frames: int = 0

    def bus(self, name: bytes) -> int:
        """The number of an interface."""
        return self.buses.setdefault(name, len(self.buses))


def read(path: Path, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    """The kept frames of a candump text, gzipped or not, in the log form or the plain form.

    CaptureError: no candump text, no timestamps, no frame, time going backwards, a gzip file broken from its start.
    """
    all_11 = np.arange(MAX_11 + 1, dtype=np.uint32)
    reading = _Reading(_form(path), keep, keep.mask(all_11, np.zeros(MAX_11 + 1, bool)))
    with files.open_binary(path) as file:
        unfinished, damage = _read_blocks(reading, path, file)
    faults = [*assemble.line_faults(reading.malformed, unfinished), *damage,
              *assemble.error_frame_fault(reading.error_frames)]
    return assemble.capture(path, reading.parts, reading.span, faults=faults)


def _form(path: Path) -> Form:
    """The form of the text, from its beginning."""
    with files.open_binary(path) as file:
        try:
            head = file.read1(HEAD_BYTES)  # type: ignore[attr-defined]
        except files.GZIP_DAMAGE as error:
            raise files.broken_gzip(path, error) from error
    name = recognise(head.splitlines())
    if name == "untimed":
        raise CaptureError("its lines carry no times", path=path,
                           todo="record again with times: candump -L can0, or candump -t a can0")
    if name is None:
        raise CaptureError("is no candump text: no line at its beginning has the form of a frame", path=path,
                           todo="record with candump -L can0, or give the file the suffix of its own format")
    return FORMS[name]


def _read_blocks(reading: _Reading, path: Path, file: BinaryIO) -> tuple[int | None, list[Fault]]:
    """Everything in the file into `reading`; the number of a malformed unfinished last line, and a fault for damage."""
    desk = marks.Desk(BLOCK_BYTES)
    number = 1
    try:
        for text, finished in _blocks(path, file):
            block = marks.block(text, number, desk)
            malformed = _scan(reading, block)
            if malformed and not finished:
                return malformed[0], []
            for line in malformed:
                reading.malformed.meet(line)
            number += len(block.stop)
    except files.GZIP_DAMAGE as error:
        return None, [assemble.damage_fault(error, reading.span.last_number)]
    return None, []


def _blocks(path: Path, file: BinaryIO) -> Iterator[tuple[U8, bool]]:
    """Whole lines, as many as fit in a block, and True; last an unfinished line with a newline added, and False.

    Each block is a view of one buffer: it holds only until the next is asked for.
    """
    store = bytearray(BLOCK_BYTES)
    text = np.frombuffer(store, np.uint8)
    filled = 0
    while (count := file.readinto1(memoryview(store)[filled:-1])) > 0:  # type: ignore[attr-defined]
        filled += count
        cut = store.rfind(b"\n", 0, filled) + 1
        if cut:
            yield text[:cut], True
        elif filled == BLOCK_BYTES - 1:
            raise CaptureError("has a line without end", path=path, todo="this is no text log; check the file")
        store[: filled - cut] = store[cut:filled]
        filled -= cut
    if filled:
        store[filled] = marks.NEWLINE
        yield text[: filled + 1], False


def _scan(reading: _Reading, block: Block) -> list[int]:
    """The block's frames into `reading`; the numbers of its malformed lines."""
    fit = reading.form.fit(block)
    identifier, wanted, fits = _identify(reading, block, fit)
    rows = np.flatnonzero(wanted & fits)
    edges = [fits.argmax(), len(fits) - 1 - fits[::-1].argmax()] if fits.any() else []
    time_ns, timed = _times(block, fit, np.append(rows, edges).astype(np.int64))
    read = _keep_rows(reading, block, fit, identifier, rows, time_ns, timed)
    fits[rows[~read]] = False
    reading.span.frames += int(np.count_nonzero(fits))
    malformed, met = _read_odd(reading, block, np.flatnonzero(~fits))
    met += [(edge + block.number, time) for edge, time, good in zip(edges, time_ns[len(rows):].tolist(), timed[len(rows):], strict=True) if good]
    for number, time in sorted(met):
        reading.span.meet(time, number)
    return malformed


def _identify(reading: _Reading, block: Block, fit: Fit) -> tuple[I64, Mask, Mask]:
    """Per line: its identifier, is it to be kept, does the line still fit. Counts error frames."""
    identifier = marks.hex_number(block.text, fit.identifier, 3)
    short = fit.digits == 3
    wanted = marks.at(reading.keep_11, identifier) & short
    fits = fit.fits & ((identifier <= MAX_11) | ~short)
    long = np.flatnonzero(fits & ~short)
    if len(long):
        number = marks.hex_number(block.text, fit.identifier[long], 8)
        error = (number & ERROR_FLAG) > 0
        identifier[long] = number
        fits[long] = error | (number <= MAX_29)
        wanted[long] = ~error & reading.keep.mask(number.astype(np.uint32), np.ones(len(long), bool))
        reading.error_frames += int(np.count_nonzero(error))
    return identifier, wanted, fits


def _keep_rows(reading: _Reading, block: Block, fit: Fit, identifier: I64, rows: I64, time_ns: I64, timed: Mask) -> Mask:
    """The frames of these lines into `reading`; which of the lines could be read."""
    bus = _buses(reading, block, fit, rows)
    read = timed[:len(rows)] & (bus >= 0)
    rows, length = rows[read], fit.length[rows[read]]
    width = assemble.data_width(int(length.max(initial=0)))
    reading.parts.append(Part(time_ns[:len(read)][read], rows + block.number, bus[read], identifier[rows].astype(np.uint32),
                fit.digits[rows] == 8, length.astype(np.uint8),
                marks.hex_bytes(block.text, fit.data[rows], reading.form.step, length, width)))
    return read


def _times(block: Block, fit: Fit, rows: I64) -> tuple[I64, Mask]:
    opening = fit.opening[rows]
    return marks.time_ns(block.text, block.place[opening], block.place[opening + 1], block.place[opening + 2])


def _buses(reading: _Reading, block: Block, fit: Fit, rows: I64) -> I64:
    """The number of the interface named between each line's time and identifier; -1 where something else stands there."""
    first = block.place[fit.opening[rows] + 3] + 1
    gap = fit.identifier[rows] - 1 - first
    place = np.arange(NAME_BYTES)
    text = np.where(place < gap[:, None], marks.at(block.text, first[:, None] + place), 0).astype(np.uint8)
    if not len(text): return gap
    if (text == text[0]).all() and (gap <= NAME_BYTES).all():
        return np.full(len(rows), reading.bus(text[0].tobytes().strip(b"\0")))
    distinct, inverse = np.unique(text.view(f"S{NAME_BYTES}").ravel(), return_inverse=True)
    numbers = np.array([reading.bus(t) for t in distinct.tolist()], np.int64)
    return np.where(gap <= NAME_BYTES, numbers[inverse], -1)


def _read_odd(reading: _Reading, block: Block, rows: I64) -> tuple[list[int], list[tuple[int, int]]]:
    """Lines of no usual shape, one by one: the numbers of the malformed, and (number, time) of the frames."""
    malformed, met, kept = [], [], []
    for row in rows.tolist():
        text, number = block.line(row), row + block.number
        line = reading.form.read_line(text)
        if line:
            met.append((number, line.time_ns))
            kept += _row(reading, line, number)
        elif not reading.form.skips.fullmatch(text):
            malformed.append(number)
    reading.span.frames += len(met)
    reading.parts.append(assemble.part(kept))
    return malformed, met


def _row(reading: _Reading, line: Line, number: int) -> list[Row]:
    """The frame of one line if it is to be kept."""
    if line.identifier & ERROR_FLAG:
        reading.error_frames += 1
        return []
    wanted = reading.keep.mask(np.array([line.identifier], np.uint32), np.array([line.extended]))
    if line.data is None or not wanted[0]:
        return []
    return [Row(line.time_ns, number, reading.bus(line.bus), line.identifier, line.extended, line.data)]
