"""A car on a bus: questions in, frames of its answers out, each when it is due. ISO 15765-2 on the module's side.

What it says comes from a `Car`; how it travels is here. It holds no bus and no clock: whoever drives it tells it what
was heard and asks it what is due, so that it works on a real bus and in simulated time alike.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from heapq import heappop, heappush
from itertools import count
from typing import NamedTuple, Protocol

from relearn.bus.address import Address, is_module, is_tester
from relearn.bus.frame import Frame
from relearn.bus.segments import segments
from relearn.bus.speech import Reply, is_flow, single

CONTINUE, WAIT = 0, 1  # flow status; from 2 on the tester takes no more
N_BS_S = 1.0  # ISO 15765-2: how long a module waits for flow control
BACK_TO_BACK_S = 0.0003  # a frame of 8 bytes takes a quarter of a millisecond at 500 kbit/s
LONGEST_MS = 0x7F


class Spoken(NamedTuple):
    """One payload that one module sends `delay_s` after the question. identifier: the module's own. padding: what fills
    its frames."""

    identifier: int
    extended: bool
    delay_s: float
    payload: bytes
    padding: int = 0x00


class Car(Protocol):
    """Modules that a tester can ask."""

    def says(self, payload: bytes, to: Address, now_s: float) -> Sequence[Spoken]:
        """What is answered to a question asked now, in order of time; nothing from a module that is silent."""
        ...


class _Planned(NamedTuple):
    """A frame to come."""

    time_s: float
    order: int
    reply: Reply
    rest: tuple[bytes, ...]


@dataclass
class _Paused:
    """The rest of an answer, until flow control lets it go on."""

    frames: list[bytes]
    until_s: float


@dataclass
class Answering:
    """The modules of one car at work.

    strangers: frames of modules that are not its own, heard on the bus. answered: questions that got an answer.
    """

    car: Car
    strangers: int = 0
    answered: int = 0
    _planned: list[_Planned] = field(default_factory=list)
    _paused: dict[tuple[int, bool], _Paused] = field(default_factory=dict)
    _order: Iterator[int] = field(default_factory=count)

    def hear(self, frame: Frame) -> None:
        """Something another party has sent."""
        if frame.error:
            return
        if is_module(frame.identifier, frame.extended):
            self.strangers += 1
        elif is_tester(frame.identifier, frame.extended):
            self._asked(frame)

    def due_s(self) -> float | None:
        """When it will speak next; None while it has nothing to say."""
        return self._planned[0].time_s if self._planned else None

    def speak(self, now_s: float) -> list[Reply]:
        """The frames due by now, in order."""
        said = []
        while self._planned and self._planned[0].time_s <= now_s:
            planned = heappop(self._planned)
            said.append(planned.reply)
            if planned.rest:
                self._paused[_stream(planned.reply)] = _Paused(list(planned.rest), now_s + N_BS_S)
        return said

    def _asked(self, frame: Frame) -> None:
        to = Address(frame.identifier, frame.extended)
        if is_flow(frame.data):
            self._go_on(to, frame)
        elif (payload := single(frame.data)) is not None:
            said = self.car.says(payload, to, frame.time_s)
            self.answered += bool(said)
            for spoken in said:
                self._plan(spoken, frame.time_s)

    def _plan(self, spoken: Spoken, asked_s: float) -> None:
        first, *rest = segments(spoken.payload, spoken.padding)
        reply = Reply(spoken.identifier, spoken.extended, first)
        self._paused.pop(_stream(reply), None)  # a new answer ends one that was never fetched
        self._later(asked_s + spoken.delay_s, reply, tuple(rest))

    def _go_on(self, to: Address, frame: Frame) -> None:
        stream = (to.answers or 0, to.extended)
        paused = self._paused.get(stream)
        if paused is None or frame.time_s > paused.until_s:
            return
        status, block, pause = frame.data[0] & 0x0F, frame.data[1], frame.data[2]
        if status == WAIT:
            paused.until_s = frame.time_s + N_BS_S
        elif status == CONTINUE:
            self._send_block(stream, paused, block or len(paused.frames), frame.time_s, separation_s(pause))
        else:
            del self._paused[stream]

    def _send_block(self, stream: tuple[int, bool], paused: _Paused, block: int, now_s: float, apart_s: float) -> None:
        now, paused.frames = paused.frames[:block], paused.frames[block:]
        for number, data in enumerate(now, start=1):
            self._later(now_s + number * max(apart_s, BACK_TO_BACK_S), Reply(*stream, data), ())
        paused.until_s = now_s + len(now) * apart_s + N_BS_S
        if not paused.frames:
            del self._paused[stream]

    def _later(self, time_s: float, reply: Reply, rest: tuple[bytes, ...]) -> None:
        heappush(self._planned, _Planned(time_s, next(self._order), reply, rest))


def separation_s(pause: int) -> float:
    """STmin of a flow control: 00 to 7F milliseconds, F1 to F9 hundreds of microseconds; reserved ones count as 7F."""
    if 0xF1 <= pause <= 0xF9:
        return (pause - 0xF0) * 1e-4
    return min(pause, LONGEST_MS) * 1e-3


def _stream(reply: Reply) -> tuple[int, bool]:
    return reply.identifier, reply.extended
