"""From what a reader picked out of a file to a Capture: one time order, times from zero, interfaces by appearance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from relearn.capture.frames import Capture, Frames, taken
from relearn.errors import CaptureError
from relearn.faults import Fault

YEAR_2000_S = 946_684_800  # an earlier first time is a counter that started with the recorder, no wall clock
JITTER_NS = 10_000_000  # common practice, no source: interfaces of one recorder are stamped within 10 ms of each other
FD_LENGTHS = (*range(9), 12, 16, 20, 24, 32, 48, 64)  # ISO 11898-1, data lengths of CAN FD
LAST_S = 9_000_000_000  # later seconds do not fit in 64 bits of nanoseconds
MAX_11, MAX_29 = 0x7FF, 0x1FFFFFFF


class Row(NamedTuple):
    """One frame on its way into the columns. time_ns: as in the file, nanoseconds; number: as in Frames."""

    time_ns: int
    number: int
    bus: int
    identifier: int
    extended: bool
    data: bytes


@dataclass(frozen=True, eq=False)
class Part:
    """Some frames of a file as columns: Frames, but with the file's own times and the reader's own bus numbers."""

    time_ns: NDArray[np.int64]
    number: NDArray[np.int64]
    bus: NDArray[np.int64]
    identifier: NDArray[np.uint32]
    extended: NDArray[np.bool_]
    length: NDArray[np.uint8]
    data: NDArray[np.uint8]

    def take(self, rows: NDArray[np.bool_] | NDArray[np.int64]) -> Part:
        """The frames at a mask or index array."""
        return Part(*taken(rows, *(getattr(self, field.name) for field in fields(self))))


@dataclass
class Span:
    """All frames met so far, kept or not: how many, and (number, time in ns) of the first and the last of them."""

    frames: int = 0
    first: tuple[int, int] | None = None
    last: tuple[int, int] = (0, 0)

    def meet(self, number: int, time_ns: int) -> None:
        """A frame whose time is known, in any order (it is not counted here)."""
        self.first = min(self.first or (number, time_ns), (number, time_ns))
        self.last = max(self.last, (number, time_ns))


@dataclass
class Tally:
    """How many lines or frames of one kind were met (in any order), and the first and last of them in the file."""

    count: int = 0
    first: int = 0
    last: int = 0

    def meet(self, number: int) -> None:
        """One more."""
        self.first = min(self.first or number, number)
        self.count, self.last = self.count + 1, max(self.last, number)

    @classmethod
    def of(cls, numbers: Sequence[int]) -> Tally:
        """Of these numbers, in rising order."""
        return cls(len(numbers), numbers[0], numbers[-1]) if numbers else cls()


def part(rows: Sequence[Row]) -> Part:
    """Columns of some rows; the data is 8 wide, or 64 when one of them is longer than 8."""
    width = data_width(max((len(row.data) for row in rows), default=0))
    data = b"".join(row.data.ljust(width, b"\0") for row in rows)
    return Part(
        np.array([row.time_ns for row in rows], np.int64),
        np.array([row.number for row in rows], np.int64),
        np.array([row.bus for row in rows], np.int64),
        np.array([row.identifier for row in rows], np.uint32),
        np.array([row.extended for row in rows], np.bool_),
        np.array([len(row.data) for row in rows], np.uint8),
        np.frombuffer(data, np.uint8).reshape(len(rows), width),
    )


def data_width(longest: int) -> int:
    """How wide the data column is for a longest frame of so many bytes: 8 or 64."""
    return 8 if longest <= 8 else 64


def join(parts: Sequence[Part]) -> Part:
    """All parts as one, in file order (by number)."""
    pieces = [part(()), *(piece for piece in parts if len(piece.number))]
    width = max(piece.data.shape[1] for piece in pieces)
    whole = Part(
        np.concatenate([piece.time_ns for piece in pieces]),
        np.concatenate([piece.number for piece in pieces]),
        np.concatenate([piece.bus for piece in pieces]),
        np.concatenate([piece.identifier for piece in pieces]),
        np.concatenate([piece.extended for piece in pieces]),
        np.concatenate([piece.length for piece in pieces]),
        np.concatenate([_widened(piece.data, width) for piece in pieces]),
    )
    ordered = bool((np.diff(whole.number) >= 0).all())
    return whole if ordered else whole.take(np.argsort(whole.number, kind="stable"))


def _widened(data: NDArray[np.uint8], width: int) -> NDArray[np.uint8]:
    missing = width - data.shape[1]
    return np.pad(data, ((0, 0), (0, missing))) if missing else data


def capture(
    path: Path,
    parts: Sequence[Part],
    span: Span,
    *,
    unit: str = "line",
    faults: Sequence[Fault] = (),
    notes: Sequence[str] = (),
    zero_unix_s: float = 0.0,
) -> Capture:
    """The Capture of a file's parts.

    unit: what the frames' numbers count, 'line' or 'frame'. zero_unix_s: the wall clock of the file's own time zero.
    A start before the year 2000 is no wall clock.
    CaptureError: not a single frame, or a time more than 10 ms before an earlier one.
    """
    if span.first is None:
        raise CaptureError(
            "holds not a single frame",
            path=path,
            remedy="check that the interface was up and the ignition on, and record again",
        )
    whole = join(parts)
    _refuse_going_back(path, whole, span, unit)
    whole, moved = _in_time_order(whole)
    zero_ns = min([span.first[1], *whole.time_ns[:1].tolist()])
    end_ns = max([span.last[1], *whole.time_ns[-1:].tolist()])
    start_unix_s = zero_unix_s + zero_ns // 10**9 + zero_ns % 10**9 / 1e9  # in one step a float would be rounded twice
    wall_clock = start_unix_s >= YEAR_2000_S
    more = [f"{moved} frames stood up to 10 ms out of order and were put in order of time."] if moved else []
    more += [] if wall_clock else ["Its times are no wall clock: they count from when the recorder was started."]
    return Capture(
        path=path,
        start_unix_s=start_unix_s if wall_clock else None,
        duration_s=max(end_ns - zero_ns, 0) / 1e9,
        total_frames=span.frames,
        frames=_frames(whole, zero_ns),
        faults=tuple(faults),
        notes=(*notes, *more),
    )


def _in_time_order(whole: Part) -> tuple[Part, int]:
    """The frames in order of time, equal times as in the file, and how many changed places."""
    order = np.argsort(whole.time_ns, kind="stable")
    moved = int(np.count_nonzero(order != np.arange(len(order))))
    return (whole.take(order) if moved else whole), moved


def _frames(whole: Part, zero_ns: int) -> Frames:
    return Frames(
        (whole.time_ns - zero_ns) / 1e9,
        whole.number,
        _by_appearance(whole.bus),
        whole.identifier,
        whole.extended,
        whole.length,
        whole.data,
    )


def _by_appearance(bus: NDArray[np.int64]) -> NDArray[np.uint8]:
    """Bus numbers renamed 0, 1, … in order of first appearance (all beyond the 256th share the last)."""
    if (bus == bus[:1]).all():
        return np.zeros(len(bus), np.uint8)
    _, first, place = np.unique(bus, return_index=True, return_inverse=True)
    rank = np.argsort(np.argsort(first))
    return np.asarray(np.minimum(rank, 255)[place], np.uint8)


def _refuse_going_back(path: Path, whole: Part, span: Span, unit: str) -> None:
    """CaptureError naming the first frame more than 10 ms earlier than one before it."""
    behind = np.flatnonzero(np.maximum.accumulate(whole.time_ns) - whole.time_ns > JITTER_NS)
    if len(behind):
        raise backwards(path, int(whole.number[behind[0]]), unit)
    if span.first and span.first[1] - span.last[1] > JITTER_NS:
        raise backwards(path, span.last[0], unit)


def backwards(path: Path, number: int, unit: str = "line") -> CaptureError:
    """The error for a clock that was set back while recording, or for files joined in the wrong order."""
    remedy = f"use one recording at a time, split the file at this {unit}, or record again"
    if unit == "line":
        return CaptureError("time goes backwards here", path=path, line=number, remedy=remedy)
    return CaptureError(f"time goes backwards at {unit} {number}", path=path, remedy=remedy)


def line_faults(malformed: Tally, unit: str = "line") -> list[Fault]:
    """One folded fault for malformed lines, none for none. unit: 'line', or 'frame' in a file without lines."""
    if not malformed.count:
        return []
    one = f"{unit.capitalize()} {malformed.first} is not well formed and is left out."
    many = f"{malformed.count} {unit}s, the first of them {malformed.first}, are not well formed and are left out."
    return [
        Fault(
            f"malformed-{unit}",
            one if malformed.count == 1 else many,
            first_frame=malformed.first,
            last_frame=malformed.last,
            count=malformed.count,
        )
    ]


def cut_off_fault(number: int) -> list[Fault]:
    """The fault for a last line that is malformed and has no newline."""
    return [
        Fault(
            "truncated-last-line",
            f"Line {number}, the last, was cut off and is left out.",
            first_frame=number,
            last_frame=number,
        )
    ]


def damage_fault(error: BaseException, last_number: int, unit: str = "line") -> Fault:
    """The fault for a file that ends or breaks in the middle; what was read before stays."""
    reason = str(error) or type(error).__name__
    return Fault(
        "truncated-file",
        f"The file is damaged or cut off after {unit} {last_number} ({reason}); what came before is used.",
        last_frame=last_number,
    )


def error_frame_fault(count: int) -> list[Fault]:
    """The fault for bus error frames, none for none: they are counted, not kept."""
    text = f"The recorder noted {count} error frame{'s' if count > 1 else ''} on the bus."
    return [Fault("error-frame", text, count=count)] if count else []
