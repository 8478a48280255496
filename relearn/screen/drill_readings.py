"""What a drill asks about and no chart shows, in numbers: the newest value, and between what it was so far."""

from __future__ import annotations

from collections.abc import Collection, Iterator

import numpy as np

from relearn.channels import Channel
from relearn.checks.view import View
from relearn.report.words import number, plain, words

LAMP, COUNT = "malfunction_lamp", "stored_code_count"
ASKED_ABOUT = ("vehicle_speed", LAMP, COUNT, "battery_voltage")


def readings(seen: View, charted: Collection[str], at_s: float) -> str:
    """'vehicle speed 0 km/h, so far 0 to 43 km/h · malfunction lamp off', of what was read up to at_s; '' for nothing.

    charted: the channels that a chart shows.
    """
    return " · ".join(filter(None, (*_channels(seen, charted, at_s), _codes(seen, at_s))))


def _channels(seen: View, charted: Collection[str], at_s: float) -> Iterator[str]:
    for name in ASKED_ABOUT:
        channel = seen.channels.get(name)
        if channel is None or name in charted:
            continue
        values = channel.value[: int(np.searchsorted(channel.time_s, at_s, side="right"))]
        if len(values):
            yield f"{words(name)} {_said(channel, values)}"


def _said(channel: Channel, values: np.ndarray) -> str:
    if channel.name == LAMP:
        return "lit" if values[-1] > 0 else "off, was lit" if values.max() > 0 else "off"
    now, low, high = (float(one) for one in (values[-1], values.min(), values.max()))
    said = number(now, channel.unit)
    return said if low == high else f"{said}, so far {number(low)} to {number(high, channel.unit)}"


def _codes(seen: View, at_s: float) -> str:
    """The stored codes that the newest list gave; '' where none did or it was empty: the count says so."""
    lists = [one for one in seen.codes if one.kind == "stored" and one.time_s <= at_s]
    return f"stored {plain(', '.join(lists[-1].codes))}" if lists and lists[-1].codes else ""
