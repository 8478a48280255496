"""A CSV of decoded values, from any source, as a Table: times from its start and one column of numbers per header.

Nobody knows here what a column means; that is decided later from its header.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from relearn.capture import assemble, cells, table_times
from relearn.capture.assemble import JITTER_NS, Tally
from relearn.capture.cells import Grid
from relearn.capture.frames import Capture, Column, Table
from relearn.capture.keep import KEEP_DIAGNOSTIC, Keep
from relearn.capture.table_times import Times
from relearn.errors import CaptureError
from relearn.faults import Fault


@dataclass(frozen=True, eq=False)
class _Timed:
    """The rows that have a time, in order of time: which rows of the grid, their seconds, how the order was made."""

    rows: NDArray[np.int64]
    seconds: NDArray[np.float64]
    notes: tuple[str, ...]


def read(path: Path, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    """The table in a CSV file, gzipped or not. `keep` chooses frames, of which a table has none.

    CaptureError: no text, no table, no time column, times that are not understood or go backwards, no row of values.
    """
    grid, faults = cells.grid(path)
    used, times = _times(path, grid)
    timed = _in_order(path, times, np.array(grid.lines, np.int64))
    line = np.array(grid.lines, np.int64)
    untimed = np.flatnonzero(np.isnan(times.seconds))
    faults += assemble.line_faults(Tally.of(line[untimed].tolist()))
    columns = [_column(grid, place, timed.rows) for place in range(len(grid.headers)) if place not in used]
    zero_s = float(timed.seconds[0])
    return Capture(
        path=path,
        start_unix_s=None if times.zero_unix_s is None else times.zero_unix_s + zero_s,
        duration_s=float(timed.seconds[-1]) - zero_s,
        total_frames=len(timed.rows),
        table=Table(timed.seconds - zero_s, line[timed.rows], tuple(column for column, _ in columns)),
        faults=(*faults, *(fault for _, found in columns for fault in found)),
        notes=(*times.notes, *timed.notes),
    )


def _times(path: Path, grid: Grid) -> tuple[tuple[int, ...], Times]:
    """The time column, or a column of dates and one of times of day, and what they say."""
    used = grid.times[:2] if _dates(grid.columns[grid.times[0]]) else grid.times[:1]
    header = " ".join(grid.headers[place] for place in used)
    texts = [" ".join(parts).strip() for parts in zip(*(grid.columns[place] for place in used), strict=True)]
    times = table_times.read(header, texts, grid.numbers(used[0]) if len(used) == 1 else [None] * len(texts))
    lost = np.flatnonzero(np.isnan(times.seconds))
    if len(lost) > len(texts) / 2:
        raise CaptureError(
            f"has times that are not understood, such as '{texts[lost[0]]}' below '{header}'",
            path=path,
            line=grid.lines[lost[0]],
            remedy="write seconds, or date and time of day such as 2030-05-01 13:45:10.5",
        )
    return used, times


def _dates(column: tuple[str, ...]) -> bool:
    return all(map(table_times.is_date, filter(None, column)))


def _in_order(path: Path, times: Times, line: NDArray[np.int64]) -> _Timed:
    """CaptureError where time falls by more than 10 ms."""
    rows = np.flatnonzero(~np.isnan(times.seconds))
    seconds = times.seconds[rows]
    behind = np.flatnonzero((np.maximum.accumulate(seconds) - seconds) * 1e9 > JITTER_NS)
    if len(behind):
        raise assemble.backwards(path, int(line[rows[behind[0]]]))
    order = np.argsort(seconds, kind="stable")
    spread, notes = table_times.spread(seconds[order])
    return _Timed(rows[order], spread, notes)


def _column(grid: Grid, place: int, rows: NDArray[np.int64]) -> tuple[Column, list[Fault]]:
    """A column's values in the order of rows, and a fault for its cells that are neither blank nor a number."""
    numbers, texts, header = grid.numbers(place), grid.columns[place], grid.headers[place]
    values = np.array([np.nan if numbers[row] is None else numbers[row] for row in rows], np.float64)
    odd = [row for row in rows.tolist() if numbers[row] is None and texts[row]]
    distinct = tuple(dict.fromkeys(texts[row] for row in odd))
    column = Column(header, values, distinct)
    if not odd:
        return column, []
    what = f"{len(odd)} cells hold" if len(odd) > 1 else "1 cell holds"
    return column, [
        Fault(
            "not-a-number",
            f"In column '{header}', {what} text such as '{distinct[0]}'.",
            first_frame=min(grid.lines[row] for row in odd),
            last_frame=max(grid.lines[row] for row in odd),
            count=len(odd),
        )
    ]
