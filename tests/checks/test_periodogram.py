"""Against scipy.signal.lombscargle, which takes the same least squares one frequency at a time."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import lombscargle

from relearn.checks.periodogram import spectrum


def both(time_s: np.ndarray, level: np.ndarray, frequency_hz: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Power and amplitude as scipy has them."""
    angular = 2 * np.pi * frequency_hz
    power = lombscargle(time_s, level, angular, normalize=True, floating_mean=True)
    return power, np.abs(lombscargle(time_s, level, angular, normalize="amplitude", floating_mean=True))


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(10, 300), st.integers(2, 400))
def test_power_and_amplitude_are_scipys(seed: int, samples: int, count: int) -> None:
    """Irregular times, so that no frequency is one the samples cannot see."""
    random = np.random.default_rng(seed)
    time_s, level = np.sort(random.uniform(0, 60, samples)), random.normal(700, 20, samples)
    frequency_hz = np.linspace(0.05, 1.5, count)
    ours, (power, amplitude) = spectrum(time_s, level, frequency_hz), both(time_s, level, frequency_hz)
    np.testing.assert_allclose(ours.power, power, atol=1e-8)
    np.testing.assert_allclose(ours.amplitude, amplitude, rtol=1e-6, atol=1e-6)


@pytest.mark.parametrize("rate_hz", [1.0, 2.0, 3.0])
def test_a_sine_that_even_samples_cannot_see_explains_nothing(rate_hz: float) -> None:
    """At the rate itself every sample shows the same of it; at half the rate, the cosine alone (Nyquist)."""
    time_s = np.arange(0, 60, 1 / rate_hz)
    level = np.random.default_rng(3).normal(0, 5, len(time_s))
    ours = spectrum(time_s, level, np.array([rate_hz / 2, rate_hz]))
    cosine = np.cos(np.pi * rate_hz * time_s)
    assert ours.power[0] == pytest.approx(np.corrcoef(level, cosine)[0, 1] ** 2, abs=1e-6)
    assert ours.power[1] == pytest.approx(0.0, abs=1e-6)
