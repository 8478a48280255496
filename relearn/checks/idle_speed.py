"""The engine speed of one idle episode: how steady it was, and whether it stayed inside its window for as long as
asked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from relearn.channels import Channel, between
from relearn.checks.holding import worst
from relearn.checks.hunting import Swing, swing
from relearn.checks.settling import Settled, drift_per_min, exits
from relearn.verdict import Evidence, Limits, Outcome, Verdict

UNSETTLED_LAST_S = 60.0


@dataclass(frozen=True)
class Asked:
    """What the speed must do: stay inside target (None: nobody said) for hold_s with at least least_samples."""

    target: Limits | None
    hold_s: float
    least_samples: float


@dataclass(frozen=True)
class Steady:
    """The engine speed over the judged span: what it did, whether or not a target is known."""

    mean_rpm: float
    sd_rpm: float
    min_rpm: float
    max_rpm: float
    drift_rpm_per_min: float | None
    hunting: Swing | None
    from_s: float
    to_s: float
    samples: int


def steadiness(samples: Channel, when: Settled, from_s: float, asked: Asked) -> Steady:
    """Over the stay from from_s on, less its strays, when it is as long as asked; else over the episode's later part:
    its last 60 s, and of a short one its second half, so that the flare of a start does not count as swing."""
    stay = _stay(samples, when, from_s)
    if when.at_s is not None and len(stay) > 1 and stay.time_s[-1] - stay.time_s[0] >= asked.hold_s:
        return _measured(stay)
    begin_s, end_s = float(samples.time_s[0]), float(samples.time_s[-1])
    later = between(samples, end_s - min(UNSETTLED_LAST_S, (end_s - begin_s) / 2), end_s)
    return _measured(later if len(later) > 1 else samples)


def _stay(samples: Channel, when: Settled, from_s: float) -> Channel:
    """The samples from from_s on that count."""
    stay = between(samples, from_s, np.inf)
    return stay.take(~np.isin(stay.time_s, when.strays))


def _measured(over: Channel) -> Steady:
    return Steady(
        float(over.value.mean()),
        float(over.value.std()),
        float(over.value.min()),
        float(over.value.max()),
        drift_per_min(over),
        swing(over),
        float(over.time_s[0]),
        float(over.time_s[-1]),
        len(over),
    )


def speed_part(samples: Channel, when: Settled, from_s: float, asked: Asked, steady: Steady) -> Verdict:
    """Inside the window from some moment on, and from from_s on for hold_s with least_samples.

    no           outside at the end, or restless: it came inside and keeps leaving
    cannot tell  no target, or inside for too short a time or with too few samples
    """
    if asked.target is None:
        return Verdict("speed", Outcome.CANNOT_TELL, "no target idle speed: give a target and a tolerance, or a sheet")
    window, end_s = asked.target.describe(), float(samples.time_s[-1])
    seen = f"(mean {steady.mean_rpm:.0f}, {steady.min_rpm:.0f} to {steady.max_rpm:.0f} rpm)"
    if when.at_s is None:
        late = between(samples, steady.from_s, steady.to_s)
        return _speed(Outcome.NO, f"engine speed did not stay at {window} {seen}", late, asked.target)
    stay = _stay(samples, when, from_s)
    restless = _restless(samples, asked.target, asked.hold_s)
    if end_s - from_s < asked.hold_s and restless is not None:
        return _speed(Outcome.NO, f"engine speed keeps leaving {window} {seen}", restless, asked.target)
    if end_s - from_s < asked.hold_s or len(stay) < asked.least_samples:
        said = f"for only {max(end_s - from_s, 0.0):.1f} s with {len(stay)} samples"
        wanted = f"(asked {asked.hold_s:g} s and {asked.least_samples:g})"
        return _speed(Outcome.CANNOT_TELL, f"the warm idle stayed at {window} {said} {wanted}", stay, asked.target)
    said = f"for {end_s - from_s:.0f} s (mean {steady.mean_rpm:.0f} rpm)"
    return _speed(Outcome.YES, f"engine speed stayed at {window} {said}", stay, asked.target)


def _speed(outcome: Outcome, reason: str, samples: Channel, target: Limits) -> Verdict:
    """With the sample nearest to, or furthest beyond, the window as evidence."""
    evidence = worst(samples, target) if len(samples) else Evidence("engine_speed", limits=target)
    return Verdict("speed", outcome, reason, (evidence,))


def _restless(samples: Channel, target: Limits, hold_s: float) -> Channel | None:
    """The stretch in which it keeps leaving the window: more than once in the last hold_s, or at all in the last two
    after being inside before them. None where it does not."""
    end_s = float(samples.time_s[-1])
    last, last_two = (between(samples, end_s - times * hold_s, np.inf) for times in (1, 2))
    if exits(last, target) > 1:
        return last
    before = between(samples, -np.inf, end_s - 2 * hold_s)
    been_inside = any(target.holds(float(value)) for value in before.value)
    return last_two if been_inside and exits(last_two, target) > 0 else None
