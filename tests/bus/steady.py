"""A car that always says the same, fast enough for an hour of it: one module with all parameters up to 5F."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from relearn.bus.address import Address
from relearn.bus.answering import Answering, Spoken
from relearn.bus.ask import Patience
from relearn.bus.frame import Frame
from relearn.bus.session import Session
from relearn.bus.source import Notice
from relearn.j1979.records import MASKS
from relearn.j1979.table import parameters
from tests.bus.simulated import START_S, CountedBus, CountedClock

VIN = b"1M8GDM9AXKP042788"  # 49 CFR 565's worked example
SUPPORTED = frozenset(pid for pid in parameters() if pid < 0x60) - MASKS
MASK_BITS = {
    base: sum(1 << (base + 0x20 - pid) for pid in {*SUPPORTED, 0x20, 0x40} if base < pid <= base + 0x20).to_bytes(
        4, "big"
    )
    for base in (0x00, 0x20, 0x40)
}


class Steady:
    """awake: answers at all. calibration: what it calls its program."""

    def __init__(self, delay_s: float = 0.005) -> None:
        self.awake, self.calibration, self.delay_s = True, b"DEMO-0001", delay_s

    def says(self, payload: bytes, to: Address, now_s: float) -> Sequence[Spoken]:
        said = self._said(payload) if self.awake and to.answers in (None, 0x7E8) else None
        return [Spoken(0x7E8, False, self.delay_s, said)] if said else ()

    def _said(self, payload: bytes) -> bytes | None:
        if payload[0] in (0x03, 0x07, 0x0A):
            return bytes((payload[0] + 0x40, 0))
        if payload[0] == 0x01:
            return b"\x41" + b"".join(bytes((pid,)) + self._data(pid) for pid in payload[1:] if self._data(pid))
        texts = {b"\x09\x02": VIN, b"\x09\x04": self.calibration.ljust(16, b"\0")}
        return b"\x49" + payload[1:2] + b"\x01" + texts[payload] if payload in texts else None

    def _data(self, pid: int) -> bytes:
        return MASK_BITS.get(pid, bytes(parameters()[pid].length) if pid in SUPPORTED else b"")


class Recorded:
    """A Session at a steady car, in counted time."""

    def __init__(self, path: Path, bus: type[CountedBus] = CountedBus, **more: Any) -> None:
        self.path, self.car, self.clock = path, Steady(), CountedClock()
        self.bus = bus(self.clock, Answering(self.car), **more)
        self.notices: list[Notice] = []
        self.session = Session(self.bus, self.clock, path, None, Patience(), self.notices.append)

    def go(self, until_s: float) -> None:
        """Up to so many seconds after the start."""
        while self.clock.now_s() < START_S + until_s:
            self.session.step()

    @property
    def kinds(self) -> list[str]:
        return [one.kind for one in self.notices]


def stray(time_s: float, identifier: int = 0x123, data: bytes = b"\x00", error: bool = False) -> Frame:
    """A frame of somebody else, so many seconds after the start."""
    return Frame(START_S + time_s, identifier, False, data, error)
