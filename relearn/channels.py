"""One irregular series per channel of one module: freshness, gaps and windows, always in seconds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from relearn.j1979.names import known
from relearn.j1979.series import Series

FRESH_S = 5.0
FRESH_INTERVALS = 3.0
FRESH_AT_MOST_S = 15.0


@dataclass(frozen=True, eq=False)
class Channel:
    """The values of one parameter from one module, in time order.

    time_s, value: float64; frame: int64, the frame that brought each value.
    plausible: inclusive window outside of which a value is a broken circuit and no measurement, None where unknown.
    """

    name: str
    unit: str
    module: str
    time_s: NDArray[np.float64]
    value: NDArray[np.float64]
    frame: NDArray[np.int64]
    plausible: tuple[float, float] | None = None

    def __len__(self) -> int:
        return len(self.time_s)

    def take(self, rows: NDArray[np.bool_] | slice) -> Channel:
        """The samples at a mask or slice, as a new channel."""
        return replace(self, time_s=self.time_s[rows], value=self.value[rows], frame=self.frame[rows])


def by_name(series: Iterable[Series], module: str) -> Mapping[str, Channel]:
    """The channels of one module, in the order of their names; empty if the module has none."""
    mine: dict[str, list[Series]] = defaultdict(list)
    for one in series:
        if one.module == module and len(one):
            mine[one.signal.name].append(one)
    return {name: _channel(mine[name]) for name in sorted(mine)}


def _channel(parts: Sequence[Series]) -> Channel:
    """What several answers brought of one signal, in time order; equal times keep the order of the parts."""
    first, time_s = parts[0], np.concatenate([one.time_s for one in parts])
    order = np.argsort(time_s, kind="stable")
    signal = known().get(first.signal.name)
    return Channel(
        first.signal.name,
        first.signal.unit,
        first.module,
        time_s[order],
        np.concatenate([one.value for one in parts])[order],
        np.concatenate([one.frame for one in parts])[order],
        signal.plausible if signal else None,
    )


def between(channel: Channel, from_s: float, to_s: float) -> Channel:
    """The samples with from_s ≤ time ≤ to_s."""
    first = int(np.searchsorted(channel.time_s, from_s, side="left"))
    last = int(np.searchsorted(channel.time_s, to_s, side="right"))
    return channel.take(slice(first, last))


def implausible(channel: Channel) -> NDArray[np.bool_]:
    """True where a value is NaN or outside the plausible window: a broken circuit, not a measurement."""
    broken = np.isnan(channel.value)
    if channel.plausible is not None:
        low, high = channel.plausible
        broken |= (channel.value < low) | (channel.value > high)
    return broken


def plausible_only(channel: Channel) -> Channel:
    """The samples that are measurements."""
    return channel.take(~implausible(channel))


def median_interval_s(channel: Channel) -> float | None:
    """The usual time between two samples, None with fewer than two.

    As np.median has it, in a fifth of the time: every question asks for it of every channel, a drill at every moment.
    """
    if len(channel) < 2:
        return None
    steps_s = np.diff(channel.time_s)
    middle = len(steps_s) // 2
    steps_s.partition((middle - 1, middle))
    return float(steps_s[middle] if len(steps_s) % 2 else (steps_s[middle - 1] + steps_s[middle]) / 2)


def fresh_within_s(channel: Channel) -> float:
    """How old a newest sample may be: 5 s or three of the channel's own median intervals, at most 15 s."""
    interval_s = median_interval_s(channel) or 0.0
    return min(FRESH_AT_MOST_S, max(FRESH_S, FRESH_INTERVALS * interval_s))


def longest_gap_s(channel: Channel) -> float | None:
    """The longest time between two samples, None with fewer than two."""
    return float(np.diff(channel.time_s).max()) if len(channel) > 1 else None


def value_at(channel: Channel, times_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """The last known value at each time; NaN before the first sample and where that sample is no longer fresh."""
    if not len(channel):
        return np.full(len(times_s), np.nan)
    row = np.searchsorted(channel.time_s, times_s, side="right") - 1
    age_s = times_s - channel.time_s[np.maximum(row, 0)]
    return np.where((row >= 0) & (age_s <= fresh_within_s(channel)), channel.value[np.maximum(row, 0)], np.nan)
