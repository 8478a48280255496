"""The dominant swing of an idle: its frequency and amplitude, and how likely noise alone would look like it.

Polled samples are irregular, so the spectrum is Lomb–Scargle (periodogram.py) and the false-alarm level is Baluev's
approximation (R. V. Baluev, MNRAS 385, 1279, 2008), which astropy also uses and the tests compare with.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import lgamma

import numpy as np
from numpy.typing import NDArray

from relearn.channels import Channel, between, median_interval_s
from relearn.checks.periodogram import Spectrum, spectrum

LOW_HZ, HIGH_HZ = 0.05, 1.5
FALSE_ALARM_AT_MOST = 0.01
SHARE_AT_LEAST = 0.25  # of the variance: less is no dominant swing but the unevenness every idle has
LEAST_AMPLITUDE_RPM = 1.0  # engine speed is read in quarters of a revolution (SAE J1979, parameter 0C)
OVERSAMPLING = 10
LEAST_SAMPLES = 10
MOST_SAMPLES = 6000
STRETCH_S = 20.0  # a swing that comes late, or wanders, is lost in a long record: each 20 s of it is looked at too
PLAIN_SHARE, PLAIN_AMPLITUDE_RPM = 0.5, 10.0
PHASES = 16
LEAST_PERIODS = 3.0
NO_SINE = 0.10  # how far a folded wave may differ from its sine before the wave itself is believed
ALIAS_SHARE = 0.8  # an alias with this share of the peak's power could as well be the swing


@dataclass(frozen=True)
class Swing:
    """The dominant swing from from_s to to_s. frequency_hz is None where the sampling cannot tell it from a faster or
    slower one (the amplitude stands).

    amplitude_rpm: half of peak to peak. false_alarm: probability that noise alone gives a peak this high.
    share: part of the variance the swing explains, 0 to 1.
    """

    frequency_hz: float | None
    amplitude_rpm: float
    false_alarm: float
    share: float
    from_s: float
    to_s: float
    samples: int


def swing(speed: Channel) -> Swing | None:
    """The widest dominant swing between 0.05 and 1.5 Hz in the record or in any 20 s of it, None without one.

    A swing is dominant when its false-alarm level is ≤ 1 % (times the stretches looked at), it explains ≥ 25 % of the
    variance left after a straight line is taken out, and it is at least 1 rpm. None as well with fewer than ten samples
    or fewer than three periods: a single step is no swing.
    """
    recent = speed.take(slice(-MOST_SAMPLES, None))
    stretches = _stretches(recent)
    whole = _swing(recent, 1 + len(stretches))
    parts = [one for part in stretches if (one := _swing(part, 1 + len(stretches))) is not None and _plain(one)]
    return max([whole, *parts] if whole is not None else parts, key=lambda one: one.amplitude_rpm, default=None)


def _plain(found: Swing) -> bool:
    """Of many short stretches one always swings a little: only a plain swing counts there."""
    return found.share >= PLAIN_SHARE and found.amplitude_rpm >= PLAIN_AMPLITUDE_RPM


def _stretches(speed: Channel) -> list[Channel]:
    """Overlapping stretches of 20 s, the last one at the end; none of a record hardly longer."""
    if not len(speed) or speed.time_s[-1] - speed.time_s[0] < 1.5 * STRETCH_S:
        return []
    last = float(speed.time_s[-1]) - STRETCH_S
    begins = [*np.arange(speed.time_s[0], last, STRETCH_S / 2), last]
    return [between(speed, float(begin), float(begin) + STRETCH_S) for begin in begins]


def _swing(speed: Channel, looked: int) -> Swing | None:
    interval_s = median_interval_s(speed)
    if interval_s is None or interval_s <= 0 or len(speed) < LEAST_SAMPLES:
        return None
    time_s, level = speed.time_s - speed.time_s[0], _detrended(speed.time_s, speed.value)
    low_hz = max(LOW_HZ, LEAST_PERIODS / time_s[-1])
    if low_hz >= HIGH_HZ or np.ptp(level) == 0:
        return None
    seen = spectrum(time_s, level, _grid(low_hz, HIGH_HZ, float(time_s[-1])))
    best = int(np.argmax(seen.power))
    share = float(seen.power[best])
    alarm = min(1.0, looked * false_alarm(share, time_s, HIGH_HZ))
    frequency_hz = _refined(seen, best)
    amplitude = _half_peak_to_peak(time_s, level, frequency_hz, float(seen.amplitude[best]))
    if alarm > FALSE_ALARM_AT_MOST or share < SHARE_AT_LEAST or amplitude < LEAST_AMPLITUDE_RPM:
        return None
    named = None if _could_be_an_alias(seen, best, interval_s, 1.0 / time_s[-1]) else frequency_hz
    ends = float(speed.time_s[0]), float(speed.time_s[-1])
    return Swing(named, amplitude, alarm, share, *ends, len(speed))


def _refined(seen: Spectrum, best: int) -> float:
    """The peak of the parabola through the best power and its neighbours."""
    if not 0 < best < len(seen.power) - 1:
        return float(seen.frequency_hz[best])
    left, middle, right = (float(seen.power[best + step]) for step in (-1, 0, 1))
    bend = left - 2 * middle + right
    step_hz = float(seen.frequency_hz[1] - seen.frequency_hz[0])
    return float(seen.frequency_hz[best]) + (0.5 * (left - right) / bend * step_hz if bend else 0.0)


def _half_peak_to_peak(
    time_s: NDArray[np.float64], level: NDArray[np.float64], frequency_hz: float, sine: float
) -> float:
    """Of the wave folded at its frequency; of the sine itself where the wave is one, or too few samples to fold."""
    if len(level) < 5 * PHASES:
        return sine
    phase = np.floor((time_s * frequency_hz % 1.0) * PHASES).astype(np.int64)
    counts = np.bincount(phase, minlength=PHASES)
    if counts.min() < 3:
        return sine
    folded = float(np.ptp(np.bincount(phase, level, PHASES) / counts)) / 2.0
    return folded if abs(folded - sine) > NO_SINE * sine else sine


def _could_be_an_alias(seen: Spectrum, best: int, interval_s: float, resolution_hz: float) -> bool:
    """Whether a frequency that this sampling confuses with the best one has nearly its power."""
    rate_hz, frequency_hz = 1.0 / interval_s, float(seen.frequency_hz[best])
    others = [abs(turn * rate_hz + sign * frequency_hz) for turn in range(1, 4) for sign in (-1, 1)]
    near = [
        np.abs(seen.frequency_hz - other) <= resolution_hz
        for other in others
        if abs(other - frequency_hz) > 2 * resolution_hz
    ]
    powers = [float(seen.power[where].max()) for where in near if where.any()]
    return max(powers, default=0.0) >= ALIAS_SHARE * float(seen.power[best])


def slowest_interval_s() -> float:
    """The longest regular sampling interval at which every swing up to 1.5 Hz is told from every other."""
    return 0.5 / HIGH_HZ


def _detrended(time_s: NDArray[np.float64], value: NDArray[np.float64]) -> NDArray[np.float64]:
    slope, level = np.polyfit(time_s - time_s[0], value, 1)
    return np.asarray(value - (level + slope * (time_s - time_s[0])), np.float64)


def _grid(low_hz: float, high_hz: float, span_s: float) -> NDArray[np.float64]:
    """Frequencies ten times as close as the record's own resolution."""
    return np.linspace(low_hz, high_hz, max(8, int(np.ceil((high_hz - low_hz) * span_s * OVERSAMPLING))))


def false_alarm(power: float, time_s: NDArray[np.float64], high_hz: float) -> float:
    """Probability that a highest peak of normalised power `power` or more comes from white noise, up to high_hz."""
    count = len(time_s)
    free = count - 1
    left = max(1.0 - power, 1e-300)
    width = high_hz * np.sqrt(4 * np.pi * np.var(time_s))
    gamma = np.sqrt(2.0 / free) * np.exp(lgamma(free / 2.0) - lgamma((free - 1) / 2.0))
    single = left ** (0.5 * (count - 3))
    expected = gamma * width * left ** (0.5 * (count - 4)) * np.sqrt(0.5 * free * power)
    return float(np.clip(-np.expm1(np.log1p(-min(single, 1.0 - 1e-16)) - expected), 0.0, 1.0))
