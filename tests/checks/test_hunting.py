"""The swing of an idle, against scipy and astropy on signals of known frequency."""

from collections.abc import Callable

import numpy as np
import pytest
from astropy.timeseries import LombScargle

from relearn.checks.hunting import false_alarm, swing
from relearn.checks.periodogram import spectrum
from tests.build import channel


def wave(frequency_hz: float, amplitude_rpm: float, noise_rpm: float, interval_s: float, span_s: float = 60.0):
    """A sine about 650 rpm with white noise, sampled at slightly irregular times (fixed seed)."""
    random = np.random.default_rng(7)
    time_s = np.arange(0, span_s, interval_s) + random.uniform(
        0, 0.2 * interval_s, len(np.arange(0, span_s, interval_s))
    )
    value = 650 + amplitude_rpm * np.sin(2 * np.pi * frequency_hz * time_s) + random.normal(0, noise_rpm, len(time_s))
    return channel("engine_speed", time_s, value)


@pytest.mark.parametrize("frequency_hz", [0.1, 0.23, 0.43, 0.8, 1.4])
def test_a_known_swing_is_found(frequency_hz: float) -> None:
    found = swing(wave(frequency_hz, 40.0, 8.0, 0.1))
    assert found is not None
    assert found.frequency_hz == pytest.approx(frequency_hz, abs=0.01)
    assert found.amplitude_rpm == pytest.approx(40.0, rel=0.05)
    assert found.false_alarm < 1e-6


def test_white_noise_is_no_swing() -> None:
    assert swing(wave(0.4, 0.0, 12.0, 0.1)) is None


def test_a_small_swing_in_an_uneven_idle_is_not_dominant() -> None:
    assert swing(wave(0.4, 5.0, 12.0, 0.1)) is None


def test_a_straight_drift_is_no_swing() -> None:
    time_s = np.arange(0, 60, 0.1)
    assert swing(channel("engine_speed", time_s, 650 + time_s + np.random.default_rng(1).normal(0, 5, 600))) is None


@pytest.mark.parametrize("frequency_hz", [0.62, 0.9, 1.2])
def test_an_alias_is_never_named(frequency_hz: float) -> None:
    """Read every 0.5 s to the dot, f and 2 − f Hz give the same samples (Nyquist)."""
    time_s = np.arange(0, 60, 0.5)
    found = swing(channel("engine_speed", time_s, 650 + 60 * np.sin(2 * np.pi * frequency_hz * time_s)))
    assert found is not None and found.frequency_hz is None


def test_below_the_nyquist_frequency_it_is_named_at_half_a_second_too() -> None:
    time_s = np.arange(0, 60, 0.5)
    found = swing(channel("engine_speed", time_s, 650 + 60 * np.sin(2 * np.pi * 0.3 * time_s)))
    assert found is not None and found.frequency_hz == pytest.approx(0.3, abs=0.01)


@pytest.mark.parametrize(
    ("shape", "amplitude_rpm"),
    [
        (lambda turn: 2 * (turn % 1.0) - 1, 70.0),
        (lambda turn: 4 * np.abs(turn % 1.0 - 0.5) - 1, 60.0),
        (lambda turn: np.where(turn % 1.0 < 0.5, 1.0, -1.0), 45.0),
        (lambda turn: np.sin(2 * np.pi * turn), 50.0),
    ],
)
def test_amplitude_is_half_of_peak_to_peak_whatever_the_shape(
    shape: Callable[..., np.ndarray], amplitude_rpm: float
) -> None:
    """Saw, triangle, square and sine of known height."""
    time_s = np.arange(0, 60, 0.1)
    found = swing(channel("engine_speed", time_s, 650 + amplitude_rpm * shape(0.41 * time_s)))
    assert found is not None and found.amplitude_rpm == pytest.approx(amplitude_rpm, rel=0.15)


def test_a_swing_that_comes_late_is_not_lost_in_a_long_record() -> None:
    time_s = np.arange(0, 90, 0.1)
    late = np.where(time_s > 72, 80 * np.sin(2 * np.pi * 0.5 * time_s), 0.0)
    found = swing(channel("engine_speed", time_s, 650 + late + np.random.default_rng(2).normal(0, 4, len(time_s))))
    assert found is not None and found.amplitude_rpm > 50
    assert found.frequency_hz == pytest.approx(0.5, abs=0.03)


def test_a_step_is_no_swing_and_neither_is_the_last_count_of_a_reading() -> None:
    time_s = np.arange(0, 40, 0.1)
    assert swing(channel("engine_speed", time_s, np.where(time_s < 20, 700.0, 640.0))) is None
    assert swing(channel("engine_speed", time_s, 650 + 0.25 * (time_s % 2 < 1))) is None


def test_slow_sampling_names_no_frequency_but_keeps_the_amplitude() -> None:
    found = swing(wave(0.2, 60.0, 5.0, 1.0))
    assert found is not None
    assert found.frequency_hz is None
    assert found.amplitude_rpm == pytest.approx(60.0, rel=0.1)


@pytest.mark.parametrize("amplitude_rpm", [0.0, 5.0, 20.0])
def test_power_and_false_alarm_agree_with_astropy(amplitude_rpm: float) -> None:
    """astropy.timeseries.LombScargle with a floating mean, and its false_alarm_probability(method='baluev')."""
    series = wave(0.43, amplitude_rpm, 10.0, 0.2)
    time_s, level = series.time_s - series.time_s[0], series.value - series.value.mean()
    ours = spectrum(time_s, level, np.linspace(0.05, 1.5, 871))
    theirs = LombScargle(time_s, level, fit_mean=True)
    np.testing.assert_allclose(ours.power, theirs.power(ours.frequency_hz, method="slow"), atol=1e-9)
    highest = float(ours.power.max())
    expected = float(theirs.false_alarm_probability(highest, maximum_frequency=1.5, method="baluev"))
    assert false_alarm(highest, time_s, 1.5) == pytest.approx(expected, rel=0.02)
