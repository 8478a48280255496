"""The engine module's idle control: what was learned, then throttle air by PI, with spark as the fast actuator."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple


@dataclass(frozen=True, slots=True)
class Idle:
    """Targets, gains and limits of the idle governor, and how the pedal asks for air."""

    target_rpm: float
    cold_rpm_per_k: float
    warm_c: float
    learned_idle_pct: float
    cold_pct_per_k: float
    load_pct_per_a: float
    start_pct: float
    start_fade_s: float
    start_rpm: float
    integral_after_s: float
    integral_pct_per_rpm_s: float
    proportional_pct_per_rpm: float
    proportional_most_pct: float
    authority_pct: float
    least_pct: float
    release_fade_s: float
    idle_timing_deg: float
    timing_deg_per_rpm: float
    timing_swing_deg: float
    running_timing_per_rpm: float
    greatest_timing_deg: float
    pedal_linear_pct: float
    pedal_square_pct: float


class Command(NamedTuple):
    """What the governor holds from step to step, and what it asks for now."""

    opening_pct: float
    timing_deg: float
    integral_pct: float = 0.0
    released_pct: float = 0.0


class Seen(NamedTuple):
    """What the module goes by in one step.

    extra_load_a: electric load above the usual. running_s: since the engine runs by itself, 0 while it stands.
    standing: the vehicle does not move.
    """

    speed_rpm: float
    coolant_c: float
    extra_load_a: float
    pedal_pct: float
    running_s: float
    standing: bool


def starting(idle: Idle, running_s: float) -> float:
    """What is left of the start, 1 falling to 0."""
    return 1.0 / (1.0 + (running_s / idle.start_fade_s) ** 2)


def target_rpm(idle: Idle, coolant_c: float, running_s: float) -> float:
    """Idle speed aimed at: faster when cold and just after the start."""
    cold_rpm = idle.cold_rpm_per_k * max(0.0, idle.warm_c - coolant_c)
    return idle.target_rpm + cold_rpm + idle.start_rpm * starting(idle, running_s)


def pedal_opening_pct(idle: Idle, pedal_pct: float) -> float:
    """Opening that the driver asks for: gentle at first."""
    return pedal_pct * (idle.pedal_linear_pct + idle.pedal_square_pct * pedal_pct)


def known_opening_pct(idle: Idle, seen: Seen) -> float:
    """Feed-forward: learned idle air, more when cold, under electric load and just after the start."""
    cold_pct = idle.cold_pct_per_k * max(0.0, idle.warm_c - seen.coolant_c)
    start_pct = idle.start_pct * starting(idle, seen.running_s)
    return idle.learned_idle_pct + cold_pct + idle.load_pct_per_a * seen.extra_load_a + start_pct


def govern(idle: Idle, integral_gain: float, before: Command, seen: Seen, dt: float) -> Command:
    """One step of the governor. With the pedal pressed or the vehicle rolling it only holds what it had.

    integral_gain: how hard the integral corrects, 1 is right.
    """
    asked_pct = pedal_opening_pct(idle, seen.pedal_pct)
    released_pct = max(asked_pct, before.released_pct * (1.0 - dt / idle.release_fade_s))
    governing = seen.standing and released_pct < 0.1
    error_rpm = _error_rpm(idle, seen) if governing and seen.running_s > 0.0 else 0.0
    integral_pct = _integrate(idle, before.integral_pct, integral_gain * error_rpm, seen.running_s, dt)
    opening_pct = known_opening_pct(idle, seen) + integral_pct + released_pct
    opening_pct += _within(idle.proportional_pct_per_rpm * error_rpm, idle.proportional_most_pct)
    return Command(max(opening_pct, idle.least_pct), _timing_deg(idle, error_rpm, seen), integral_pct, released_pct)


def _error_rpm(idle: Idle, seen: Seen) -> float:
    return target_rpm(idle, seen.coolant_c, seen.running_s) - seen.speed_rpm


def _integrate(idle: Idle, integral_pct: float, error_rpm: float, running_s: float, dt: float) -> float:
    if running_s < idle.integral_after_s:
        return integral_pct
    return _within(integral_pct + idle.integral_pct_per_rpm_s * error_rpm * dt, idle.authority_pct)


def _timing_deg(idle: Idle, error_rpm: float, seen: Seen) -> float:
    if error_rpm:
        return idle.idle_timing_deg + _within(idle.timing_deg_per_rpm * error_rpm, idle.timing_swing_deg)
    running = idle.running_timing_per_rpm * max(0.0, seen.speed_rpm - idle.target_rpm)
    return min(idle.idle_timing_deg + running, idle.greatest_timing_deg)


def _within(value: float, greatest: float) -> float:
    return min(max(value, -greatest), greatest)
