"""Small hand-made channels and views for the tests: invented numbers, literal times."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from relearn.channels import Channel
from relearn.checks.view import View
from relearn.j1979.records import Codes, Support
from relearn.j1979.table import signals


def channel(name: str, time_s: Sequence[float], value: Sequence[float] | float) -> Channel:
    """A channel of module 7E8, one frame a sample, with the table's unit and plausible window."""
    times = np.asarray(time_s, np.float64)
    signal = signals().get(name)
    values = np.broadcast_to(np.asarray(value, np.float64), times.shape).copy()
    return Channel(
        name,
        signal.unit if signal else "",
        "7E8",
        times,
        values,
        np.arange(1, len(times) + 1),
        signal.plausible if signal else None,
    )


def view(
    *channels: Channel, end_s: float | None = None, support: Support | None = None, codes: tuple[Codes, ...] = ()
) -> View:
    """What module 7E8 told; the capture ends with its last sample unless said otherwise."""
    last_s = max((float(one.time_s[-1]) for one in channels if len(one)), default=0.0)
    return View("7E8", {one.name: one for one in channels}, last_s if end_s is None else end_s, support, codes)


def every(interval_s: float, from_s: float, to_s: float) -> np.ndarray:
    """Regular times from from_s up to and including to_s."""
    return np.arange(round((to_s - from_s) / interval_s) + 1) * interval_s + from_s
