"""Freshness and windows on literal series; the numbers (5 s, three intervals, 15 s) are the project's own rule."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from relearn.channels import between, by_name, fresh_within_s, implausible, longest_gap_s, median_interval_s, value_at
from relearn.j1979.series import Series
from relearn.j1979.table import signals
from relearn.samples import COLUMNS, tidy
from tests.build import channel, every


@pytest.mark.parametrize(("interval_s", "limit_s"), [(0.1, 5.0), (1.0, 5.0), (2.0, 6.0), (4.0, 12.0), (10.0, 15.0)])
def test_fresh_within(interval_s: float, limit_s: float) -> None:
    assert fresh_within_s(channel("vehicle_speed", every(interval_s, 0, 100), 0.0)) == pytest.approx(limit_s)


def test_one_sample_is_fresh_for_five_seconds() -> None:
    alone = channel("vehicle_speed", [3.0], 0.0)
    assert (fresh_within_s(alone), median_interval_s(alone), longest_gap_s(alone)) == (5.0, None, None)


@given(st.lists(st.floats(0, 1e5), min_size=2, max_size=40).map(sorted))
def test_the_usual_interval_is_the_median(times_s: list[float]) -> None:
    """numpy's own, an independent implementation."""
    assert median_interval_s(channel("vehicle_speed", times_s, 0.0)) == float(np.median(np.diff(times_s)))


def test_between_has_both_ends() -> None:
    assert list(between(channel("vehicle_speed", [1.0, 2.0, 3.0, 4.0], 0.0), 2.0, 3.0).time_s) == [2.0, 3.0]


def test_value_at_is_unknown_before_the_first_and_after_the_last_is_stale() -> None:
    speed = channel("vehicle_speed", [10.0, 11.0, 12.0], [1.0, 2.0, 3.0])
    found = value_at(speed, np.array([9.9, 10.0, 11.5, 17.0, 17.1]))
    np.testing.assert_array_equal(found, [np.nan, 1.0, 2.0, 3.0, np.nan])


def test_minus_40_is_an_open_circuit_and_no_temperature() -> None:
    """SAE J1979 scaling of parameter 05: raw 00 is −40 °C."""
    coolant = channel("coolant_temperature", [0.0, 1.0, 2.0], [-40.0, 20.0, float("nan")])
    assert list(implausible(coolant)) == [True, False, True]


def series(module: str, name: str, value: float) -> Series:
    return Series(module, signals()[name], np.array([1.0, 2.0]), np.array([value, value]), np.array([5, 9]))


def test_two_modules_never_mix() -> None:
    both = [series("7E8", "vehicle_speed", 0.0), series("7E9", "vehicle_speed", 50.0)]
    assert list(by_name(both, "7E8")["vehicle_speed"].value) == [0.0, 0.0]
    assert list(by_name(both, "7E9")["vehicle_speed"].value) == [50.0, 50.0]
    assert by_name(both, "7EA") == {}


def test_the_tidy_table_is_in_time_order_and_empty_without_series() -> None:
    table = tidy([series("7E8", "engine_speed", 700.0), series("7E8", "vehicle_speed", 0.0)])
    assert list(table["time_s"]) == [1.0, 1.0, 2.0, 2.0]
    assert list(table["unit"]) == ["rpm", "km/h", "rpm", "km/h"]
    assert list(tidy([]).columns) == list(COLUMNS)
