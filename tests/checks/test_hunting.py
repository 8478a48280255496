"""The swing of an idle, against scipy and astropy on signals of known frequency."""

import numpy as np
import pytest
from astropy.timeseries import LombScargle

from relearn.checks.hunting import false_alarm, spectrum, swing
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
    ours = spectrum(time_s, level, 0.05, 1.5)
    theirs = LombScargle(time_s, level, fit_mean=True)
    np.testing.assert_allclose(ours.power, theirs.power(ours.frequency_hz, method="slow"), atol=1e-9)
    highest = float(ours.power.max())
    expected = float(theirs.false_alarm_probability(highest, maximum_frequency=1.5, method="baluev"))
    assert false_alarm(highest, time_s, 1.5) == pytest.approx(expected, rel=0.02)
