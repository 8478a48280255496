"""The recent part of a recording, kept in memory for whoever judges it while it is being made.

The last quarter of an hour, frame by frame, and for ever what was last said of identity, support and codes. Rows lie
packed end to end in one buffer, so that an hour takes no more room than a quarter of one, and become columns at once.
"""

from __future__ import annotations

import struct
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from relearn.bus.address import is_module, is_tester
from relearn.bus.frame import Frame
from relearn.bus.speech import READABLE_IDENTIFIERS, Service, is_flow, single
from relearn.capture.assemble import data_width, error_frame_fault
from relearn.capture.frames import Capture, Frames
from relearn.capture.keep import KEEP_DIAGNOSTIC, Keep
from relearn.j1979.records import MASKS

KEEP_S = 900.0
MOST_ROWS = 400_000  # a broadcast that a database asks for can be faster than any diagnosis; 34 MB
SWEEP_ROWS = 1024  # old rows go out by the thousand
MOST_TALKS, MOST_FRAMES = 512, 512  # of what is kept for ever: different questions, and frames of one answer
WIDTH = 64
ROW = np.dtype(
    [
        ("time_s", "=f8"),
        ("number", "=i8"),
        ("identifier", "=u4"),
        ("extended", "?"),
        ("length", "u1"),
        ("data", "u1", (WIDTH,)),
    ]
)
PACKED = struct.Struct(f"=dqI?B{WIDTH}s")
LASTING = frozenset({Service.STORED_CODES, Service.PENDING_CODES, Service.VEHICLE_INFORMATION, Service.PERMANENT_CODES})
Rows = NDArray[np.void]


class Window:
    """keep: which frames. keep_s: for how long. Every frame of the recording must be witnessed, so that the numbers
    here are the lines of its file."""

    def __init__(self, keep: Keep = KEEP_DIAGNOSTIC, keep_s: float = KEEP_S) -> None:
        self._keep, self._keep_s = keep, keep_s
        self._rows, self._lasting = bytearray(), _Lasting()
        self._start_s: float | None = None
        self.frames = self._errors = self._dropped = 0

    def witness(self, frame: Frame) -> None:
        """One frame more."""
        self.frames += 1
        if self._start_s is None:
            self._start_s = frame.time_s
        if frame.error:
            self._errors += 1
        elif _kept(self._keep, frame.identifier, frame.extended):
            row = _packed(frame, self.frames)
            self._rows += row
            self._lasting.witness(frame, row)
            if self.frames % SWEEP_ROWS == 0:
                self._sweep(frame.time_s)

    def elapsed_s(self, now_s: float) -> float:
        """Since the first frame; 0 before it."""
        return now_s - self._start_s if self._start_s is not None else 0.0

    def capture(self, path: Path, now_s: float) -> Capture:
        """What is kept, as a capture that ends now."""
        self._sweep(now_s)
        recent = np.frombuffer(bytes(self._rows), ROW)
        rows = np.concatenate((self._lasting.before(recent), recent))
        only = f"Only its last {self._keep_s:.0f} s are looked at while it is being made."
        return Capture(
            path=path,
            start_unix_s=self._start_s if self._start_s is not None else now_s,
            duration_s=self.elapsed_s(now_s),
            total_frames=self.frames,
            frames=_frames(rows, self._start_s or now_s),
            faults=tuple(error_frame_fault(self._errors)),
            notes=(only,) if self._dropped else (),
        )

    def _sweep(self, now_s: float) -> None:
        """What is too old, or too much, goes."""
        times = np.frombuffer(self._rows, ROW)["time_s"]
        old = max(int(np.searchsorted(times, now_s - self._keep_s)), len(times) - MOST_ROWS)
        del times  # a buffer that is looked at cannot shrink
        del self._rows[: old * ROW.itemsize]
        self._dropped += old


class _Lasting:
    """The newest answered conversation about each thing that is asked only now and then."""

    def __init__(self) -> None:
        self._answered: dict[tuple[int, bool, bytes], bytearray] = {}
        self._about: tuple[int, bool, bytes] | None = None
        self._now = bytearray()

    def witness(self, frame: Frame, row: bytes) -> None:
        if is_module(frame.identifier, frame.extended):
            self._answer(row)
        elif is_tester(frame.identifier, frame.extended):
            self._ask(frame, row)

    def before(self, recent: Rows) -> Rows:
        """All rows that are older than these, in order."""
        rows = np.frombuffer(b"".join(self._answered.values()), ROW)
        older = rows[rows["number"] < recent["number"][0]] if len(recent) else rows
        return older[np.argsort(older["number"])]

    def _ask(self, frame: Frame, row: bytes) -> None:
        if is_flow(frame.data):
            self._add(row)
        else:
            self._about = (frame.identifier, frame.extended, frame.data) if lasts(frame.data) else None
            self._now = bytearray(row)

    def _answer(self, row: bytes) -> None:
        """An answer puts the conversation in the place of the one before; a question alone does not."""
        self._add(row)
        if self._about is not None and self._answered.get(self._about) is not self._now:
            self._answered.pop(self._about, None)
            self._answered[self._about] = self._now
            if len(self._answered) > MOST_TALKS:
                del self._answered[next(iter(self._answered))]

    def _add(self, row: bytes) -> None:
        if self._about is not None and len(self._now) < MOST_FRAMES * ROW.itemsize:
            self._now += row


def lasts(data: bytes) -> bool:
    """A question whose answer holds until it is asked again: codes, identity, which parameters there are."""
    payload = single(data)
    if payload is None:
        return False
    if payload[0] == Service.CURRENT_DATA:
        return set(payload[1:]) <= MASKS
    if payload[0] == Service.BY_IDENTIFIER:
        return all(_lasting_identifier(*payload[at : at + 2]) for at in range(1, len(payload) - 1, 2))
    return payload[0] in LASTING


def _lasting_identifier(high: int, low: int) -> bool:
    parameters, infotypes = READABLE_IDENTIFIERS
    return high == infotypes or (high == parameters and low in MASKS)


@lru_cache(4096)
def _kept(keep: Keep, identifier: int, extended: bool) -> bool:
    return bool(keep.mask(np.array([identifier], np.uint32), np.array([extended]))[0])


def _packed(frame: Frame, number: int) -> bytes:
    return PACKED.pack(
        frame.time_s, number, frame.identifier, frame.extended, len(frame.data), frame.data
    )  # struct fills up with zeros


def _frames(rows: Rows, start_s: float) -> Frames:
    length = rows["length"].copy()
    return Frames(
        rows["time_s"] - start_s,
        rows["number"].copy(),
        np.zeros(len(rows), np.uint8),
        rows["identifier"].copy(),
        rows["extended"].copy(),
        length,
        rows["data"][:, : data_width(int(length.max(initial=0)))].copy(),
    )
