"""Fuel trims: what the module adds to the fuel that its air meter asks for, to keep the mixture right."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import NamedTuple


class Loop(IntEnum):
    """Fuel system status as J1979 parameter 03 codes it."""

    OFF = 0
    OPEN_NOT_YET = 1
    CLOSED = 2


@dataclass(frozen=True, slots=True)
class Trimming:
    """When the loop closes, and how fast the trims move."""

    closed_loop_c: float
    closed_loop_after_s: float
    short_term_per_s: float
    long_term_per_s: float
    greatest_short_pct: float
    greatest_long_pct: float
    idle_cell_rpm: float


class Trims(NamedTuple):
    """Short-term trim, and the long-term trim's two cells, all in %."""

    short_pct: float = 0.0
    long_idle_pct: float = 0.0
    long_cruise_pct: float = 0.0
    loop: Loop = Loop.OFF

    def long_pct(self, trimming: Trimming, speed_rpm: float) -> float:
        """The long-term cell in use at this engine speed."""
        return self.long_idle_pct if speed_rpm < trimming.idle_cell_rpm else self.long_cruise_pct


def loop_state(trimming: Trimming, running_s: float, coolant_c: float) -> Loop:
    """Off while the engine stands; closed once it has run long enough and is warm enough."""
    if running_s <= 0.0:
        return Loop.OFF
    ready = running_s >= trimming.closed_loop_after_s and coolant_c >= trimming.closed_loop_c
    return Loop.CLOSED if ready else Loop.OPEN_NOT_YET


def trim(trimming: Trimming, trims: Trims, loop: Loop, needed_pct: float, speed_rpm: float, dt: float) -> Trims:
    """One step: short-term follows what long-term leaves over, long-term slowly takes over. Open loop: short-term 0."""
    if loop is not Loop.CLOSED:
        return Trims(0.0, trims.long_idle_pct, trims.long_cruise_pct, loop)
    left_pct = needed_pct - trims.long_pct(trimming, speed_rpm) - trims.short_pct
    short_pct = _within(trims.short_pct + left_pct * trimming.short_term_per_s * dt, trimming.greatest_short_pct)
    taken_pct = trims.short_pct * trimming.long_term_per_s * dt
    idle = speed_rpm < trimming.idle_cell_rpm
    return Trims(
        short_pct,
        _within(trims.long_idle_pct + taken_pct * idle, trimming.greatest_long_pct),
        _within(trims.long_cruise_pct + taken_pct * (not idle), trimming.greatest_long_pct),
        loop,
    )


def _within(value: float, greatest: float) -> float:
    return min(max(value, -greatest), greatest)
