"""One CAN frame as it passes on a bus."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Frame:
    """time_s: seconds since 1970 on the clock of whoever saw it. data: 0 to 64 bytes. error: no message but the
    adapter's word that the bus is in trouble."""

    time_s: float
    identifier: int
    extended: bool
    data: bytes
    error: bool = False
