"""The loop that lets a pretend car answer on a bus, in the time of whatever clock the line has.

A pretend car must never sit on a bus with a car or a module on it: two that answer to one question garble each other,
and a tester would take an invented answer for a measured one. So it listens before it says a word, and stops when it
hears a module that is not its own.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from relearn.bus.address import Address, is_module, is_tester
from relearn.bus.answering import Answering, Car, Spoken
from relearn.bus.frame import Frame
from relearn.bus.wire import Line, nothing
from relearn.errors import BusError

LISTEN_S = 2.0  # any car that is awake sends something in this time
LOOK_S = 0.1  # how long one listen takes at most, so that a key pressed to end it is seen soon
REMEDY = "use a bus of its own for it: no car, no module and no second pretend car on it"


def never() -> bool:
    """Nobody stops it."""
    return False


class Cue(NamedTuple):
    """Something to be told when its time comes. time_s: seconds since 1970."""

    time_s: float
    text: str


class Cues:
    """Cues in time order, each told once."""

    def __init__(self, cues: Iterable[Cue], tell: Callable[[str], None]) -> None:
        self._coming, self._tell = deque(sorted(cues)), tell

    def tick(self, now_s: float) -> None:
        """Tell those that are due by now."""
        while self._coming and self._coming[0].time_s <= now_s:
            self._tell(self._coming.popleft().text)


@dataclass(frozen=True)
class Paced:
    """A car whose own time passes `speed` times as fast as the clock, from `from_s` on, beginning at `begin_s` on the
    clock. How long its answers take is not changed by it."""

    car: Car
    begin_s: float
    from_s: float = 0.0
    speed: float = 1.0

    def says(self, payload: bytes, to: Address, now_s: float) -> Sequence[Spoken]:
        return self.car.says(payload, to, self.time_s(now_s))

    def time_s(self, now_s: float) -> float:
        """The car's own time."""
        return self.from_s + (now_s - self.begin_s) * self.speed

    def clock_s(self, time_s: float) -> float:
        """When the car's own time has come this far."""
        return self.begin_s + (time_s - self.from_s) / self.speed


def quiet(line: Line, seconds: float = LISTEN_S) -> None:
    """Listen this long. BusError: something else than a tester's questions is on the bus."""
    until_s = line.clock.now_s() + seconds
    while (frame := line.hear(until_s)) is not None:
        if not (frame.error or is_tester(frame.identifier, frame.extended)):
            raise BusError(f"the bus is in use: {named(frame)} was heard on it", remedy=REMEDY)


def serve(
    line: Line,
    answering: Answering,
    until_s: float,
    stopped: Callable[[], bool] = never,
    tick: Callable[[float], None] = nothing,
) -> None:
    """Answer until `until_s` (seconds since 1970) or until somebody stops it; `tick` is told the time at every look.

    BusError: another module speaks on the bus, or the adapter is gone.
    """
    while (now_s := line.clock.now_s()) < until_s and not stopped():
        tick(now_s)
        for reply in answering.speak(now_s):
            line.say(reply)
        frame = line.hear(min(_next_s(answering), until_s, line.clock.now_s() + LOOK_S))
        if frame is not None:
            alone(frame)
            answering.hear(frame)


def alone(frame: Frame) -> None:
    """BusError where somebody else's module has spoken."""
    if not frame.error and is_module(frame.identifier, frame.extended):
        raise BusError(f"another module speaks on the bus: {named(frame)} was heard", remedy=REMEDY)


def named(frame: Frame) -> str:
    """A frame for a sentence: identifier and data in hex."""
    return f"{frame.identifier:0{8 if frame.extended else 3}X}#{frame.data.hex().upper()}"


def _next_s(answering: Answering) -> float:
    due_s = answering.due_s()
    return float("inf") if due_s is None else due_s
