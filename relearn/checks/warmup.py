"""When will the coolant reach its window? A fit of Newton's law of heating to the warm-up so far, with an interval.

    T(t) = T_end − (T_end − T_0) · exp(−t / τ)

The fit is told, never trusted blindly: `Forecast.trusted` is False, with the reason, when the curve does not carry it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from relearn.channels import Channel, plausible_only

LEAST_SAMPLES = 10
LEAST_SPAN_S = 60.0
LEAST_RISE_C = 5.0
COUNT_SD_C = 1 / np.sqrt(12)  # a reading is a whole degree (SAE J1979, parameter 05)
MOST_RESIDUAL_C = 1.0
MOST_WIDTH = 1.0  # of the interval, in units of the time left
NORMAL_95 = 1.96
MOST_SAMPLES = 2000


@dataclass(frozen=True)
class Forecast:
    """When coolant reaches `target_c`, in seconds after the end of the capture, with a 95 % interval.

    reach_s, low_s and high_s are None where the fit gives none. trusted: False when `reason` says why not to rely on
    it.
    """

    target_c: float
    reach_s: float | None
    low_s: float | None
    high_s: float | None
    trusted: bool
    reason: str


def forecast(coolant: Channel, target_c: float, end_s: float) -> Forecast | None:
    """The forecast for a capture that is still warming up at its end.

    None when there is nothing to forecast: the newest reading is at or above target_c, or there is no reading.
    Not trusted: fewer than 10 samples, less than 60 s or 5 °C of rise, falling at the end, a poor fit (more than 1 °C
    rms), a curve that levels off below the target, or an interval wider than the time left.
    """
    measured = _last_rise(plausible_only(coolant))
    if not len(measured) or measured.value[-1] >= target_c:
        return None
    short = _too_little(measured)
    if short:
        return Forecast(target_c, None, None, None, False, short)
    return _fitted(measured, target_c, end_s)


def _last_rise(channel: Channel) -> Channel:
    """From the last low point on: what came before (a cooling car, another drive) is another curve."""
    if not len(channel):
        return channel
    falls = np.flatnonzero(np.maximum.accumulate(channel.value) - channel.value > 2.0)
    first = int(np.argmin(channel.value[falls[-1] :])) + int(falls[-1]) if len(falls) else int(np.argmin(channel.value))
    rise = channel.take(slice(first, None))
    return rise.take(slice(None, None, max(1, len(rise) // MOST_SAMPLES)))


def _too_little(rise: Channel) -> str | None:
    span_s, rise_c = float(rise.time_s[-1] - rise.time_s[0]), float(rise.value[-1] - rise.value[0])
    if len(rise) < LEAST_SAMPLES or span_s < LEAST_SPAN_S:
        return f"only {span_s:.0f} s of warm-up in the capture (at least {LEAST_SPAN_S:.0f} s)"
    return None if rise_c >= LEAST_RISE_C else f"coolant rose only {rise_c:.0f} °C (at least {LEAST_RISE_C:.0f} °C)"


def heating(t_s: NDArray[np.float64], end_c: float, start_c: float, tau_s: float) -> NDArray[np.float64]:
    """Newton's law of heating toward end_c."""
    return end_c - (end_c - start_c) * np.exp(-t_s / tau_s)


def reaches_s(end_c: float, start_c: float, tau_s: float, target_c: float) -> float:
    """When the curve passes target_c, seconds from its start; inf when it never does."""
    return float(tau_s * np.log((end_c - start_c) / (end_c - target_c))) if end_c > target_c else float("inf")


def _reaches_s(curve: NDArray[np.float64], target_c: float) -> float:
    return reaches_s(float(curve[0]), float(curve[1]), float(curve[2]), target_c)


def _fitted(rise: Channel, target_c: float, end_s: float) -> Forecast:
    from scipy.optimize import curve_fit  # long to import, and only a cold engine needs it

    t_s, value_c = rise.time_s - rise.time_s[0], rise.value
    guess = (max(90.0, float(value_c[-1]) + 5.0), float(value_c[0]), float(t_s[-1]))
    try:
        best, covariance = curve_fit(
            heating,
            t_s,
            value_c,
            p0=guess,
            sigma=np.full(len(t_s), COUNT_SD_C),
            absolute_sigma=False,
            bounds=([value_c[-1] - 2, -60.0, 5.0], [400.0, 150.0, 20000.0]),
        )
    except RuntimeError:
        return Forecast(target_c, None, None, None, False, "no heating curve fits the readings")
    residual_c = float(np.sqrt(np.mean((heating(t_s, *best) - value_c) ** 2)))
    since_s = end_s - float(rise.time_s[0])
    reach_s = _reaches_s(best, target_c) - since_s
    if not np.isfinite(reach_s):
        return Forecast(
            target_c, None, None, None, False, f"the curve levels off at {best[0]:.0f} °C, below {target_c:g} °C"
        )
    half_s = NORMAL_95 * _spread_s(best, covariance, target_c)
    return _told(target_c, max(0.0, reach_s), half_s, residual_c)


def _told(target_c: float, reach_s: float, half_s: float, residual_c: float) -> Forecast:
    low_s, high_s = max(0.0, reach_s - half_s), reach_s + half_s
    reason = ""
    if residual_c > MOST_RESIDUAL_C:
        reason = f"the readings stray {residual_c:.1f} °C from a heating curve"
    elif not np.isfinite(half_s) or high_s - low_s > MOST_WIDTH * max(reach_s, LEAST_SPAN_S):
        reason = "the warm-up so far does not fix the curve well enough"
    finite = np.isfinite(half_s)
    return Forecast(
        target_c,
        reach_s,
        low_s if finite else None,
        high_s if finite else None,
        not reason,
        reason or f"Newton's law of heating fits within {residual_c:.1f} °C",
    )


def _spread_s(best: NDArray[np.float64], covariance: NDArray[np.float64], target_c: float) -> float:
    """Standard error of the time of reaching, by the delta method (first-order propagation of the covariance)."""
    steps = np.maximum(np.abs(best) * 1e-4, 1e-6)
    gradient = np.array(
        [
            (_reaches_s(best + step, target_c) - _reaches_s(best - step, target_c)) / (2 * size)
            for step, size in zip(np.diag(steps), steps, strict=True)
        ]
    )
    return float(np.sqrt(gradient @ covariance @ gradient)) if np.isfinite(gradient).all() else float("inf")
