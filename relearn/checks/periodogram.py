"""The Lomb–Scargle periodogram with a floating mean, for thousands of samples and frequencies in a blink.

The formulas are those of M. Zechmeister and M. Kürster (A&A 496, 577, 2009), which scipy and astropy follow too.
scipy's own takes a sine and a cosine for each sample at each frequency, ten seconds for ten minutes of an idle. On an
even grid of frequencies each is the product of a coarse and a fine one, and the sums become products of matrices.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FINE = 64  # fine steps to one coarse step
LEAST_PART = 1e-12  # of the variance of a sine that the samples cannot see: it explains nothing of them

Reals = NDArray[np.float64]
Waves = NDArray[np.complex128]


@dataclass(frozen=True)
class Spectrum:
    """Normalised power (0 to 1, least squares against a constant) and amplitude at each frequency."""

    frequency_hz: Reals
    power: Reals
    amplitude: Reals


def spectrum(time_s: Reals, level: Reals, frequency_hz: Reals) -> Spectrum:
    """Least squares of a sine and a constant at each frequency. frequency_hz: evenly spaced, two or more. level: not
    constant; shape as time_s."""
    level = level - level.mean()
    once, twice, with_level = _means(time_s, level, frequency_hz)
    cosine, sine = 0.5 * (1 + twice.real) - once.real**2, 0.5 * (1 - twice.real) - once.imag**2
    both = 0.5 * twice.imag - once.real * once.imag
    # Turned by half this angle, the sine and the cosine no longer mix: `both` is 0.
    turn = np.exp(-0.5j * np.arctan2(2 * both, cosine - sine))
    middle, apart = 0.5 * (cosine + sine), np.hypot(0.5 * (cosine - sine), both)
    turned = with_level * turn
    first = turned.real / np.maximum(middle + apart, LEAST_PART)
    second = turned.imag / np.maximum(middle - apart, LEAST_PART)
    power = (first * turned.real + second * turned.imag) / (level**2).mean()
    return Spectrum(frequency_hz, np.clip(power, 0.0, 1.0), np.hypot(first, second))


def _means(time_s: Reals, level: Reals, frequency_hz: Reals) -> tuple[Waves, Waves, Waves]:
    """At each frequency the mean over all samples of the wave, of that of twice the frequency, of the wave by level."""
    step_hz = float(frequency_hz[1] - frequency_hz[0])
    coarse = np.exp(2j * np.pi * np.outer(frequency_hz[::FINE], time_s))
    fine = np.exp(2j * np.pi * step_hz * np.outer(np.arange(FINE), time_s)).T / len(time_s)
    at_all = [coarse @ fine, coarse**2 @ (fine**2 * len(time_s)), (coarse * level) @ fine]
    once, twice, with_level = (sums.ravel()[: len(frequency_hz)] for sums in at_all)
    return once, twice, with_level
