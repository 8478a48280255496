"""The warm-up forecast against Newton's law of heating itself, read in whole degrees as SAE J1979 parameter 05 does."""

import numpy as np
import pytest

from relearn.checks.warmup import forecast, heating, reaches_s
from tests.build import channel, every


def warm_up(end_c: float, start_c: float, tau_s: float, span_s: float, noise_c: float = 0.0):
    time_s = every(1.0, 0, span_s)
    noise = np.random.default_rng(3).normal(0, noise_c, len(time_s))
    return channel("coolant_temperature", time_s, np.floor(heating(time_s, end_c, start_c, tau_s) + noise + 0.5))


@pytest.mark.parametrize(
    ("end_c", "start_c", "tau_s", "span_s"),
    [(95.0, 20.0, 300.0, 240.0), (110.0, 35.0, 400.0, 200.0), (92.0, 10.0, 200.0, 180.0), (120.0, 0.0, 500.0, 400.0)],
)
def test_the_interval_holds_the_true_time(end_c: float, start_c: float, tau_s: float, span_s: float) -> None:
    true_s = reaches_s(end_c, start_c, tau_s, 70.0) - span_s
    found = forecast(warm_up(end_c, start_c, tau_s, span_s, 0.3), 70.0, span_s)
    assert found is not None
    assert found.trusted, found.reason
    assert found.low_s is not None and found.high_s is not None
    assert found.low_s - 5 <= true_s <= found.high_s + 5
    assert found.reach_s == pytest.approx(true_s, rel=0.15)


def test_the_closed_form_itself() -> None:
    """T(τ·ln((T_e−T_0)/(T_e−T))) = T."""
    assert heating(np.array([reaches_s(95, 20, 300, 70)]), 95, 20, 300)[0] == pytest.approx(70.0)
    assert reaches_s(65, 20, 300, 70) == float("inf")


@pytest.mark.parametrize(
    ("series", "why"),
    [
        (warm_up(95, 20, 300, 20), "only 20 s"),
        (warm_up(95, 20, 3000, 120), "rose only"),
        (warm_up(55, 20, 100, 600), "levels off"),
    ],
)
def test_what_cannot_be_trusted_says_why(series: object, why: str) -> None:
    found = forecast(series, 70.0, float(series.time_s[-1]))  # type: ignore[attr-defined, arg-type]
    assert found is not None
    assert not found.trusted
    assert why in found.reason


def test_a_step_is_no_heating_curve() -> None:
    time_s = every(1.0, 0, 300)
    found = forecast(channel("coolant_temperature", time_s, np.where(time_s < 150, 20.0, 60.0)), 70.0, 300.0)
    assert found is not None and not found.trusted


def test_nothing_to_forecast_when_warm_or_unread() -> None:
    assert forecast(warm_up(95, 60, 300, 600), 70.0, 600.0) is None
    assert forecast(channel("coolant_temperature", [0.0, 1.0], -40.0), 70.0, 1.0) is None
