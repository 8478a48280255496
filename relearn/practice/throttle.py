"""The electronic throttle: how far the plate stands open for a command, and the area it leaves to the air."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, radians
from typing import NamedTuple

MM2 = 1e-6
SEATED_PCT = 0.02  # a moving plate that is this close to its command has arrived


@dataclass(frozen=True, slots=True)
class Throttle:
    """Geometry and motor; opening in % above the mechanically closed plate."""

    bore_m: float
    closed_angle_deg: float
    bypass_mm2: float
    discharge: float
    lag_s: float
    closed_reading_pct: float


class Plate(NamedTuple):
    """Where the plate stands, and whether it is on its way (a sticking plate waits, then moves the whole way)."""

    opening_pct: float
    moving: bool = False


def area_m2(throttle: Throttle, opening_pct: float) -> float:
    """Effective flow area: a tilted disc in a round bore, plus what stays open when it is shut."""
    closed = radians(throttle.closed_angle_deg)
    angle = closed + opening_pct / 100.0 * (pi / 2.0 - closed)
    bore = pi / 4.0 * throttle.bore_m**2
    return throttle.discharge * bore * (1.0 - cos(angle) / cos(closed)) + throttle.bypass_mm2 * MM2


def follow(throttle: Throttle, plate: Plate, command_pct: float, sticks_pct: float, dt: float) -> Plate:
    """One step toward the command; a resting plate stays while the gap is no more than `sticks_pct`."""
    gap = command_pct - plate.opening_pct
    moving = abs(gap) > (SEATED_PCT if plate.moving else sticks_pct)
    if not moving:
        return Plate(plate.opening_pct)
    opening_pct = plate.opening_pct + gap * dt / (throttle.lag_s + dt)
    return Plate(min(max(opening_pct, 0.0), 100.0), moving)
