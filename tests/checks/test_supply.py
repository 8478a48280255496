"""The supply window of 12.0 to 13.5 V and the steady last minute: common practice, no source."""

from dataclasses import replace

import numpy as np
import pytest

from relearn.checks.supply import source, supply
from relearn.verdict import Limits, Outcome
from tests.build import channel, every

WINDOW = Limits(12.0, 13.5, "V", "common practice, no source")
TIME_S = every(1.0, 0, 900)


def volts(value: object, time_s: object = TIME_S):
    return channel("control_module_voltage", time_s, value)  # type: ignore[arg-type]


def with_stretch(first: int, last: int, value_v: float) -> np.ndarray:
    values = np.full(901, 13.4)
    values[first : last + 1] = value_v
    return values


def test_a_held_supply() -> None:
    found = supply(volts(13.4), WINDOW, 900.0)
    assert found.verdict.outcome is Outcome.YES
    assert (found.sags, found.surges, found.share_inside) == ((), (), 1.0)
    assert found.last_minute is not None
    assert (found.last_minute.span_s, found.last_minute.mean_v, found.last_minute.samples) == (
        60.0,
        pytest.approx(13.4),
        61,
    )


def test_both_ends_of_the_window_are_inside() -> None:
    assert supply(volts([12.0, 13.5] * 450 + [12.0]), WINDOW, 900.0).verdict.outcome is Outcome.YES


def test_a_sag_has_start_length_and_depth() -> None:
    found = supply(volts(with_stretch(300, 309, 11.6)), WINDOW, 900.0)
    assert found.verdict.outcome is Outcome.NO
    (sag,) = found.sags
    assert (sag.start_s, sag.length_s, sag.samples, sag.first_frame, sag.last_frame) == (300.0, 10.0, 10, 301, 310)
    assert (sag.worst_v, sag.depth_v) == (11.6, pytest.approx(0.4))
    assert found.share_inside == pytest.approx(890 / 900)


def test_a_surge_at_the_very_end_is_seen() -> None:
    found = supply(volts(with_stretch(900, 900, 14.2)), WINDOW, 900.0)
    assert found.verdict.outcome is Outcome.NO
    assert (found.surges[0].start_s, found.surges[0].length_s) == (900.0, 0.0)


@pytest.mark.parametrize(
    ("series", "end_s", "why"),
    [
        (None, 900.0, "no supply voltage"),
        (volts(13.4), 910.0, "10.0 s without"),
        (volts(13.4, [*every(1, 0, 400), *every(1, 420, 919)]), 919.0, "20.0 s without"),
        (volts([13.4] * 900 + [0.0]), 900.0, "no voltage a module can run on"),
        (volts(13.4, every(1, 0, 8)), 8.0, "only 9"),
    ],
)
def test_what_cannot_be_told(series: object, end_s: float, why: str) -> None:
    found = supply(series, WINDOW, end_s)  # type: ignore[arg-type]
    assert found.verdict.outcome is Outcome.CANNOT_TELL
    assert why in found.verdict.reason


def test_a_sag_is_a_no_even_with_a_gap() -> None:
    found = supply(volts([11.0] * 401 + [13.4] * 500, [*every(1, 0, 400), *every(1, 420, 919)]), WINDOW, 919.0)
    assert found.verdict.outcome is Outcome.NO


def test_a_meter_comes_before_the_module() -> None:
    meter = channel("battery_voltage", TIME_S, 13.4)
    assert source({"battery_voltage": meter, "control_module_voltage": volts(13.3)}) is meter


def test_a_gap_counts_on_neither_side_of_the_share() -> None:
    times = [*every(1, 0, 100), *every(1, 130, 230)]
    found = supply(volts([11.0] * 101 + [13.0] * 101, times), WINDOW, 230.0)
    assert found.share_inside == pytest.approx(0.5)


def test_a_meter_lead_that_fell_off_or_is_swapped_cannot_tell() -> None:
    for wrong in (0.0, -13.4):
        meter = replace(channel("battery_voltage", TIME_S, with_stretch(300, 305, wrong)), plausible=(1.0, 60.0))
        assert supply(meter, WINDOW, 900.0).verdict.outcome is Outcome.CANNOT_TELL
