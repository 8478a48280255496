"""When an idle came inside its window for good, on one episode's engine-speed samples. Plain arithmetic, no
verdicts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from relearn.channels import Channel
from relearn.checks.holding import inside
from relearn.verdict import Limits

ISOLATED_SHARE = 0.05  # more strays than this share of the samples (and more than one) are a swing, not strays
NEIGHBOURS = 2  # samples on each side of a stray that must be inside
TAIL_S = 2.0  # what ended an episode is under way this long before a polled sensor shows it
MOST_SLOPE_POINTS = 600


@dataclass(frozen=True)
class Settled:
    """at_s: capture time from which the speed stays inside, None if it never does. strays: single samples outside
    after that, which do not count. uncertainty_s: time since the sample before, in which it may have come inside."""

    at_s: float | None
    strays: tuple[float, ...] = ()
    uncertainty_s: float = 0.0


def settled(speed: Channel, window: Limits) -> Settled:
    """The moment after which every sample is inside the window (ends included), single isolated ones excepted.

    A stray is one sample outside whose two neighbours on either side (as far as there are any) are inside; where
    strays are more than one and more than 5 % of the samples after the moment, they count.
    """
    ok = inside(speed, window)
    stray = _strays(ok)
    for counted in (ok | stray, ok):
        first = _stays_from(counted)
        if first is None or first == len(ok):
            continue
        if (~ok[first:]).sum() <= max(1.0, ISOLATED_SHARE * len(ok[first:])):
            return Settled(
                float(speed.time_s[first]),
                tuple(float(t) for t in speed.time_s[first:][~ok[first:]]),
                float(speed.time_s[first] - speed.time_s[first - 1]) if first else 0.0,
            )
    return Settled(None)


def _strays(ok: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Single samples outside with inside neighbours; the episode's first sample is its beginning, never a stray."""
    padded = np.concatenate((np.full(NEIGHBOURS, False), ok, np.full(NEIGHBOURS, True)))
    around = [
        padded[NEIGHBOURS + step : len(ok) + NEIGHBOURS + step] for step in range(-NEIGHBOURS, NEIGHBOURS + 1) if step
    ]
    return np.asarray(~ok & np.logical_and.reduce(around), np.bool_)


def _stays_from(ok: NDArray[np.bool_]) -> int | None:
    """First index of the True run that lasts to the end; None when the last is False."""
    if not len(ok) or not ok[-1]:
        return None
    outside = np.flatnonzero(~ok)
    return int(outside[-1]) + 1 if len(outside) else 0


def exits(speed: Channel, window: Limits) -> int:
    """How often the speed went from inside the window to outside."""
    ok = inside(speed, window)
    return int((ok[:-1] & ~ok[1:]).sum())


def without_tail(speed: Channel, window: Limits | None) -> Channel:
    """The samples less those at the very end, outside the window, that already belong to what ended the episode."""
    if window is None or not len(speed):
        return speed
    ok = inside(speed, window)
    tail = speed.time_s > speed.time_s[-1] - TAIL_S
    keep = len(speed)
    while keep and tail[keep - 1] and not ok[keep - 1]:
        keep -= 1
    return speed.take(slice(None, keep)) if keep and ok[keep - 1] else speed


def drift_per_min(channel: Channel) -> float | None:
    """Theil–Sen slope in units per minute, of one-second medians; None over less than 2 s."""
    second = np.floor(channel.time_s)
    times_s, starts = np.unique(second, return_index=True)
    if len(times_s) < 3:
        return None
    blocks = np.split(channel.value, starts[1:])
    levels = np.array([np.median(block) for block in blocks])
    thin = slice(None, None, max(1, -(-len(levels) // MOST_SLOPE_POINTS)))
    return theil_sen(times_s[thin], levels[thin]) * 60.0


def theil_sen(time_s: NDArray[np.float64], value: NDArray[np.float64]) -> float:
    """The median of the slopes between all pairs of points (H. Theil 1950, P. K. Sen 1968); all times differ.

    As scipy.stats has it, which takes a second to import: longer than all of the judging.
    """
    one, other = np.triu_indices(len(time_s), 1)
    return float(np.median((value[other] - value[one]) / (time_s[other] - time_s[one])))
