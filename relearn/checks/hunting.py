"""The dominant swing of an idle: its frequency and amplitude, and how likely noise alone would look like it.

Polled samples are irregular, so the spectrum is Lomb–Scargle (scipy) and the false-alarm level is Baluev's
approximation (R. V. Baluev, MNRAS 385, 1279, 2008), which astropy also uses and the tests compare with.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lombscargle
from scipy.special import gammaln

from relearn.channels import Channel, median_interval_s

LOW_HZ, HIGH_HZ = 0.05, 1.5
NAMES_UP_TO_HZ = 1.0  # hunting is 0.1 to 1 Hz (common practice): slower sampling cannot name its frequency
FALSE_ALARM_AT_MOST = 0.01
SHARE_AT_LEAST = 0.25  # of the variance: less is no dominant swing but the unevenness every idle has
OVERSAMPLING = 10
LEAST_SAMPLES = 10
MOST_SAMPLES = 6000


@dataclass(frozen=True)
class Swing:
    """The dominant swing. frequency_hz is None where the sampling is too slow to name it (its amplitude stands).

    amplitude_rpm: half of peak to peak. false_alarm: probability that noise alone gives a peak this high.
    share: part of the variance the swing explains, 0 to 1.
    """

    frequency_hz: float | None
    amplitude_rpm: float
    false_alarm: float
    share: float


@dataclass(frozen=True)
class Spectrum:
    """Normalised power (0 to 1, least squares against a constant) and amplitude at each frequency."""

    frequency_hz: NDArray[np.float64]
    power: NDArray[np.float64]
    amplitude: NDArray[np.float64]


def swing(speed: Channel) -> Swing | None:
    """The dominant swing between 0.05 Hz and 1.5 Hz (or what the sampling can see), None where there is none.

    A swing is dominant when its false-alarm level is ≤ 1 % and it explains ≥ 25 % of the variance left after a straight
    line is taken out. None as well with fewer than ten samples or fewer than two periods of the lowest frequency it
    could name.
    """
    recent = speed.take(slice(-MOST_SAMPLES, None))
    interval_s = median_interval_s(recent)
    if interval_s is None or interval_s <= 0 or len(recent) < LEAST_SAMPLES:
        return None
    time_s, level = recent.time_s - recent.time_s[0], _detrended(recent.time_s, recent.value)
    low_hz, high_hz = max(LOW_HZ, 2.0 / time_s[-1]), min(HIGH_HZ, 0.5 / interval_s)
    if high_hz <= low_hz or np.ptp(level) == 0:
        return None
    found = spectrum(time_s, level, low_hz, high_hz)
    best = int(np.argmax(found.power))
    share = float(found.power[best])
    alarm = false_alarm(share, time_s, high_hz)
    if alarm > FALSE_ALARM_AT_MOST or share < SHARE_AT_LEAST:
        return None
    named = float(found.frequency_hz[best]) if 0.5 / interval_s >= NAMES_UP_TO_HZ else None
    return Swing(named, float(found.amplitude[best]), alarm, share)


def slowest_interval_s() -> float:
    """The longest usual sampling interval at which a swing's frequency can still be named."""
    return 0.5 / NAMES_UP_TO_HZ


def _detrended(time_s: NDArray[np.float64], value: NDArray[np.float64]) -> NDArray[np.float64]:
    slope, level = np.polyfit(time_s - time_s[0], value, 1)
    return np.asarray(value - (level + slope * (time_s - time_s[0])), np.float64)


def spectrum(time_s: NDArray[np.float64], level: NDArray[np.float64], low_hz: float, high_hz: float) -> Spectrum:
    """Lomb–Scargle with a floating mean on a grid ten times finer than the record's own resolution."""
    count = max(8, int(np.ceil((high_hz - low_hz) * time_s[-1] * OVERSAMPLING)))
    frequency_hz = np.linspace(low_hz, high_hz, count)
    angular = 2 * np.pi * frequency_hz
    power = lombscargle(time_s, level, angular, normalize=True, floating_mean=True)
    complex_amplitude = lombscargle(time_s, level, angular, normalize="amplitude", floating_mean=True)
    return Spectrum(frequency_hz, np.clip(power, 0.0, 1.0), np.abs(complex_amplitude))


def false_alarm(power: float, time_s: NDArray[np.float64], high_hz: float) -> float:
    """Probability that a highest peak of normalised power `power` or more comes from white noise, up to high_hz."""
    count = len(time_s)
    free = count - 1
    left = max(1.0 - power, 1e-300)
    width = high_hz * np.sqrt(4 * np.pi * np.var(time_s))
    gamma = np.sqrt(2.0 / free) * np.exp(gammaln(free / 2.0) - gammaln((free - 1) / 2.0))
    single = left ** (0.5 * (count - 3))
    expected = gamma * width * left ** (0.5 * (count - 4)) * np.sqrt(0.5 * free * power)
    return float(np.clip(-np.expm1(np.log1p(-min(single, 1.0 - 1e-16)) - expected), 0.0, 1.0))
