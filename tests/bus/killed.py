"""A recording of a pretend car in real time, made by a process that is there to be killed."""

from __future__ import annotations

from collections.abc import Callable
from multiprocessing.connection import Connection
from pathlib import Path

import can

from relearn.bus.answering import Answering
from relearn.bus.ask import Patience
from relearn.bus.clock import MachineClock
from relearn.bus.session import Session
from tests.bus.simulated import CountedBus, _message
from tests.bus.steady import Steady


class RealBus(CountedBus):
    """The counted bus on a clock that passes by itself. report: called before every listen."""

    report: Callable[[], None]

    def recv(self, timeout: float | None = None) -> can.Message | None:
        assert timeout is not None
        self.report()
        end_s = self.clock.now_s() + timeout
        while True:
            next_s = self._next_s()
            self.clock.sleep((end_s if next_s is None else min(next_s, end_s)) - self.clock.now_s())
            if next_s is None or next_s > end_s:
                return None
            if (heard := self._step()) is not None:
                return _message(heard)


def record(path: Path, told: Connection) -> None:
    """Record until killed; all the while, what there is by now: frames recorded, and the time."""
    clock = MachineClock()
    bus = RealBus(clock, Answering(Steady()))  # type: ignore[arg-type]
    session = Session(bus, clock, path, None, Patience(), lambda notice: None)
    bus.report = lambda: told.send((session.status().frames, clock.now_s()))
    while True:
        session.step()
