"""Channels as the charts draw them: one time column for each chart, one value column for each of its channels."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from relearn.channels import Channel, fresh_within_s, median_interval_s

BEFORE_S = 1e-6
NONE, GAP = np.nan, np.inf  # no sample of this channel here; the line is broken here
FIRST_ROWS = 1024
JOINED_S, JOINED_INTERVALS = 1.2, 3.0  # a line goes on over a silence of this, or of so many usual intervals
USUAL = 4  # so many samples tell how often a channel comes


@dataclass(frozen=True, eq=False)
class Drawn:
    """Rows of one chart. time_s: float64, ascending, shape (n,). value: float32, shape (n, channels); NONE where a
    channel has no sample at that time, GAP where its line breaks."""

    time_s: NDArray[np.float64]
    value: NDArray[np.float32]

    def __len__(self) -> int:
        return len(self.time_s)

    def until(self, time_s: float) -> int:
        """How many rows lie at or before a moment."""
        return int(np.searchsorted(self.time_s, time_s, side="right"))

    def later(self, time_s: float) -> Drawn:
        """The rows behind a moment."""
        first = self.until(time_s)
        return Drawn(self.time_s[first:], self.value[first:])


def drawn(channels: Mapping[str, Channel], names: Sequence[str]) -> Drawn:
    """The samples of these channels in one time order. A line breaks where it would be drawn over a silence."""
    shown = [channels.get(name) for name in names]
    breaks = [_breaks_s(one) if one is not None else np.empty(0) for one in shown]
    times = np.unique(np.concatenate([np.empty(0), *(one.time_s for one in shown if one is not None), *breaks]))
    value = np.full((len(times), len(names)), NONE, np.float32)
    for column, (one, broken_s) in enumerate(zip(shown, breaks, strict=True)):
        if one is not None:
            value[np.searchsorted(times, broken_s), column] = GAP
            value[np.searchsorted(times, one.time_s), column] = one.value
    return Drawn(times, value)


def _breaks_s(channel: Channel) -> NDArray[np.float64]:
    """Where a line is taken up again after a silence that is too long: just before that sample, so that whoever draws
    while samples come in never has to put a row between older ones."""
    late = np.flatnonzero(np.diff(channel.time_s) > _joined_within_s(channel))
    return channel.time_s[late + 1] - BEFORE_S


def _joined_within_s(channel: Channel) -> float:
    """How long a silence a line may go on over; never longer than a value stays fresh."""
    usual_s = (median_interval_s(channel) or 0.0) if len(channel) >= USUAL else 0.0
    return min(max(JOINED_S, JOINED_INTERVALS * usual_s), fresh_within_s(channel))


class Rows:
    """The rows of one chart while they come in, always behind those that are there. One thread adds, any reads."""

    def __init__(self, columns: int) -> None:
        self._count = 0
        self._room = Drawn(np.empty(FIRST_ROWS), np.empty((FIRST_ROWS, columns), np.float32))

    def add(self, part: Drawn) -> None:
        """Put these behind the others."""
        first, last = self._count, self._count + len(part)
        if last > len(self._room):
            self._room = _more_room(self._room, last)
        self._room.time_s[first:last], self._room.value[first:last] = part.time_s, part.value
        self._count = last

    def last_s(self) -> float:
        """The time of the newest row; before all time where there is none."""
        return float(self._room.time_s[self._count - 1]) if self._count else -inf

    def drawn(self, columns: Sequence[int]) -> Drawn:
        """What is there now, of some columns. Nothing is copied where all are asked for."""
        count, room = self._count, self._room  # in this order: room may be made larger in between, never smaller
        value = room.value[:count]
        return Drawn(room.time_s[:count], value if len(columns) == value.shape[1] else value[:, list(columns)])


def _more_room(room: Drawn, rows: int) -> Drawn:
    size = max(2 * len(room), rows)
    larger = Drawn(np.empty(size), np.empty((size, room.value.shape[1]), np.float32))
    larger.time_s[: len(room)], larger.value[: len(room)] = room.time_s, room.value
    return larger
