"""Channels thinned for a plot, without losing a sag or a spike."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from relearn.channels import Channel
from relearn.findings.job import Trace
from relearn.j1979.table import signals
from relearn.verdict import Limits

MOST_BINS = 600


def trace(channel: Channel, limits: Limits | None, judged_s: tuple[float, float] | None) -> Trace:
    """The channel with at most two points in each of 600 bins: the lowest and highest, in time order."""
    rows = extremes(channel.time_s, channel.value)
    signal = signals().get(channel.name)
    return Trace(
        channel=channel.name,
        title=signal.title if signal is not None else channel.name.replace("_", " "),
        unit=channel.unit,
        time_s=tuple(round(float(t), 3) for t in channel.time_s[rows]),
        value=tuple(round(float(v), 4) for v in channel.value[rows]),
        limits=(limits.low, limits.high) if limits is not None else (None, None),
        judged_s=judged_s,
        low_open=limits is not None and limits.low_open,
    )


def extremes(time_s: NDArray[np.float64], value: NDArray[np.float64]) -> NDArray[np.int64]:
    """Indices of each bin's lowest and highest value; all of them when there are few. NaN is left out."""
    known = np.flatnonzero(~np.isnan(value))
    if len(known) <= 2 * MOST_BINS:
        return known
    bins = np.array_split(known, MOST_BINS)
    return np.unique(np.concatenate([[part[np.argmin(value[part])], part[np.argmax(value[part])]] for part in bins]))
