"""What a drill asks about and no chart shows, in numbers; the values are hand-made."""

from __future__ import annotations

import numpy as np
import pytest

from relearn.channels import Channel
from relearn.checks.view import View
from relearn.j1979.records import Codes
from relearn.screen.drill_readings import readings


def channel(name: str, unit: str, *values: float) -> Channel:
    """A sample a second, from 0 s on."""
    time_s = np.arange(len(values), dtype=np.float64)
    return Channel(name, unit, "7E8", time_s, np.array(values, dtype=np.float64), np.arange(len(values)))


SEEN = View(
    "7E8",
    {
        one.name: one
        for one in (
            channel("vehicle_speed", "km/h", 0, 0, 43, 0),
            channel("malfunction_lamp", "", 0, 0, 1, 0),
            channel("engine_speed", "rpm", 650, 650, 650, 650),
        )
    },
    4.0,
    codes=(Codes("7E8", "stored", (), 2.0, 1), Codes("7E8", "stored", ("P0113",), 3.0, 2)),
)


@pytest.mark.parametrize(
    ("at_s", "said"),
    [
        (-1.0, ""),
        (1.0, "vehicle speed 0 km/h · malfunction lamp off"),
        (2.0, "vehicle speed 43 km/h, so far 0 to 43 km/h · malfunction lamp lit"),
        (3.5, "vehicle speed 0 km/h, so far 0 to 43 km/h · malfunction lamp off, was lit · stored P0113"),
    ],
)
def test_what_was_read_by_then_and_nothing_later(at_s: float, said: str) -> None:
    assert readings(SEEN, {"engine_speed"}, at_s) == said


def test_what_has_a_chart_is_left_to_it() -> None:
    assert readings(SEEN, {"vehicle_speed"}, 1.0) == "malfunction lamp off"
