"""A whole capture as numpy columns. Every reader makes these; no room above knows which file they came from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from relearn.faults import Fault


@dataclass(frozen=True, eq=False)
class Frames:
    """The frames kept from a capture, one row each, in time order.

    time_s: float64 seconds from the capture's first frame (of any kind).
    number: int64, 1-based place in the file: the line in a text log, the ordinal elsewhere.
    bus: uint8, index of the interface a frame was seen on (0, 1, …), so two buses' equal identifiers stay apart.
    identifier: uint32; extended: bool (29-bit); length: uint8 bytes of data (0–64).
    data: uint8, shape (n, width), zero behind each frame's length; width is 8, or 64 with CAN FD.
    """

    time_s: NDArray[np.float64]
    number: NDArray[np.int64]
    bus: NDArray[np.uint8]
    identifier: NDArray[np.uint32]
    extended: NDArray[np.bool_]
    length: NDArray[np.uint8]
    data: NDArray[np.uint8]

    def __len__(self) -> int:
        return len(self.time_s)

    def take(self, rows: NDArray[np.bool_] | NDArray[np.int64]) -> Frames:
        """The frames at a mask or index array; these very Frames at a mask that leaves none out."""
        if rows.dtype == np.bool_ and rows.all():
            return self
        return Frames(*taken(rows, *(getattr(self, field.name) for field in fields(self))))


def taken(rows: NDArray[np.bool_] | NDArray[np.int64], *columns: NDArray[Any]) -> Iterator[NDArray[Any]]:
    """The rows of each column at a mask or index array; many times as fast as columns[rows]."""
    index = np.flatnonzero(rows) if rows.dtype == np.bool_ else rows
    return (column.take(index, axis=0) for column in columns)


@dataclass(frozen=True, eq=False)
class Column:
    """One column of a table of decoded values, before anyone knows what it means.

    header: the text above it. values: float64, NaN where a cell was empty or not a number;
    texts: the distinct non-numeric cell texts met, for the notes.
    """

    header: str
    values: NDArray[np.float64]
    texts: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Table:
    """A CSV of decoded values: times from its start in seconds, the file line of each row, and its columns."""

    time_s: NDArray[np.float64]
    line: NDArray[np.int64]
    columns: tuple[Column, ...]


@dataclass(frozen=True, eq=False)
class Capture:
    """What one file held: frames or a table of values, never both.

    start_unix_s: wall clock of time zero (seconds since 1970), None when the file's times are no wall clock.
    duration_s: first frame to last, of any kind. total_frames: all frames met, kept or not.
    faults: malformed lines and other trouble with the file itself; notes: plain sentences about how it was read.
    """

    path: Path
    start_unix_s: float | None
    duration_s: float
    total_frames: int
    frames: Frames | None = None
    table: Table | None = None
    faults: tuple[Fault, ...] = ()
    notes: tuple[str, ...] = ()
