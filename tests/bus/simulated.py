"""A bus on which time is only counted: parties speak when they are due, and an hour passes in a second."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from heapq import heappop, heappush
from itertools import count
from typing import Any

import can

from relearn.bus.address import Address
from relearn.bus.answering import Answering, Spoken
from relearn.bus.frame import Frame

START_S = 1_780_000_000.0
FRAME_S = 0.00025  # one frame of 8 bytes at 500 kbit/s
Trouble = Callable[[Frame], Sequence[float]]
"""After how many seconds a frame arrives: (0.0,) is a good bus, () loses it, (0.0, 0.0) doubles it."""


def good(frame: Frame) -> Sequence[float]:
    return (0.0,)


class CountedClock:
    """A clock that moves only when somebody waits."""

    def __init__(self, start_s: float = START_S) -> None:
        self.time_s = start_s

    def now_s(self) -> float:
        return self.time_s

    def sleep(self, seconds: float) -> None:
        self.time_s += max(seconds, 0.0)


class CountedBus(can.BusABC):
    """A python-can bus with pretend cars on it, in counted time. sent: everything that was sent on it."""

    def __init__(self, clock: CountedClock, *cars: Answering, trouble: Trouble = good) -> None:
        super().__init__(channel="counted")
        self.clock, self.cars, self.trouble = clock, list(cars), trouble
        self.sent: list[Frame] = []
        self._coming: list[tuple[float, int, Frame, Answering | None]] = []
        self._order = count()

    def send(self, msg: can.Message, timeout: float | None = None) -> None:
        self.clock.sleep(FRAME_S)
        frame = Frame(self.clock.now_s(), msg.arbitration_id, msg.is_extended_id, bytes(msg.data))
        self.sent.append(frame)
        for car in self.cars:
            self._carry(frame, car)

    def put(self, frame: Frame) -> None:
        """A frame of somebody else, to be heard at its time."""
        heappush(self._coming, (frame.time_s, next(self._order), frame, None))

    def recv(self, timeout: float | None = None) -> can.Message | None:
        assert timeout is not None, "counted time never waits for ever"
        end_s = self.clock.now_s() + timeout
        while (next_s := self._next_s()) is not None and next_s <= end_s:
            self.clock.time_s = max(self.clock.time_s, next_s)
            heard = self._step()
            if heard is not None:
                return _message(heard)
        self.clock.time_s = max(self.clock.time_s, end_s)
        return None

    def _carry(self, frame: Frame, to: Answering | None) -> None:
        for late_s in self.trouble(frame):
            heappush(self._coming, (frame.time_s + late_s, next(self._order), frame, to))

    def _next_s(self) -> float | None:
        due = [one for car in self.cars if (one := car.due_s()) is not None]
        due += [self._coming[0][0]] if self._coming else []
        return min(due, default=None)

    def _step(self) -> Frame | None:
        """Whatever comes next: a frame for us, or something between the others."""
        now_s = self.clock.now_s()
        if self._coming and self._coming[0][0] <= now_s:
            _, _, frame, to = heappop(self._coming)
            if to is None:
                return frame
            to.hear(Frame(now_s, frame.identifier, frame.extended, frame.data, frame.error))
        for car in self.cars:
            for reply in car.speak(now_s):
                self._carry(Frame(now_s, reply.identifier, reply.extended, reply.data), None)
        return None

    def _recv_internal(self, timeout: float | None) -> tuple[can.Message | None, bool]:
        return self.recv(timeout), True


def _message(frame: Frame) -> can.Message:
    return can.Message(
        arbitration_id=frame.identifier,
        is_extended_id=frame.extended,
        data=frame.data,
        is_error_frame=frame.error,
        is_fd=len(frame.data) > 8,
    )


class Table:
    """A car that gives fixed answers: question payload in hex → payloads in hex of module 7E8 (or as named)."""

    def __init__(self, answers: dict[str, Any], delay_s: float = 0.005) -> None:
        self.answers = {bytes.fromhex(asked): said for asked, said in answers.items()}
        self.delay_s = delay_s
        self.asked: list[tuple[bytes, Address]] = []

    def says(self, payload: bytes, to: Address, now_s: float) -> Sequence[Spoken]:
        self.asked.append((payload, to))
        if to.answers not in (None, 0x7E8):
            return ()
        said = self.answers.get(payload, ())
        several = (said,) if isinstance(said, str) else said
        return [Spoken(0x7E8, False, self.delay_s * place, bytes.fromhex(one)) for place, one in enumerate(several, 1)]
