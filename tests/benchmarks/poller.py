"""What does polling cost? Run it by hand: `python -m tests.benchmarks.poller`.

A pretend module that answers after 8 ms sits on python-can's virtual bus. It is asked for every channel with a pace, by
relearn's Poller at its pace and as fast as it goes, and by a plain request loop on can-isotp's CanStack, which asks
one parameter after another as fast as it goes. Prints, for each: questions, values and engine speeds a second, the
processor time for one question (the whole process less the module's own thread), and the share of bus time at
500 kbit/s, counting 111 bits for a frame of 8 bytes with 11 bits of identifier (ISO 11898-1, without stuff bits).
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import cycle
from typing import NamedTuple

import can
import isotp

from relearn.bus.answering import Answering
from relearn.bus.ask import Patience
from relearn.bus.clock import MachineClock
from relearn.bus.frame import Frame
from relearn.bus.poll import Ask, Poller, plan
from relearn.bus.survey import look
from relearn.bus.wire import Line, send
from tests.bus.pretend import Module

SECONDS, DELAY_S = 10.0, 0.008
FRAME_BITS, BITS_A_SECOND = 111, 500_000
SUPPORTED = frozenset({0x01, 0x03, 0x04, 0x05, 0x06, 0x07, 0x0B, 0x0C, 0x0D, 0x0E, 0x0F, 0x10, 0x11, 0x42, 0x49, 0x5A})
SPEED = 0x0C
FLAT_OUT_S = 1e-6
Step = Callable[[], Sequence[int]]
"""One question, or a wait for the next: the parameters answered."""


class Row(NamedTuple):
    """questions, values, speeds: how many were answered; busy_s: processor time; frames: on the bus."""

    name: str
    questions: int
    values: int
    speeds: int
    busy_s: float
    frames: int


class Car(threading.Thread):
    """The module, in a thread that knows its own processor time."""

    def __init__(self, channel: str) -> None:
        super().__init__(daemon=True)
        self.bus = can.Bus(interface="virtual", channel=channel)
        self.answering = Answering(Module(SUPPORTED, delay_s=DELAY_S))
        self.clock, self.over, self.busy_s, self.frames = MachineClock(), False, 0.0, 0

    def run(self) -> None:
        while not self.over:
            due_s = self.answering.due_s()
            wait_s = 0.05 if due_s is None else max(due_s - self.clock.now_s(), 0.0)
            message = self.bus.recv(wait_s)
            if message is not None:
                self.frames += 1
                now_s = self.clock.now_s()
                self.answering.hear(Frame(now_s, message.arbitration_id, message.is_extended_id, bytes(message.data)))
            for reply in self.answering.speak(self.clock.now_s()):
                self.frames += 1
                send(self.bus, reply, self.clock.now_s())
            self.busy_s = time.thread_time()


def nothing(frame: Frame) -> None:
    """Nobody witnesses."""


def polled(bus: can.BusABC, asks: Callable[[tuple[Ask, ...]], tuple[Ask, ...]]) -> Step:
    """A poller's step, after the survey."""
    line, patience = Line(bus, MachineClock(), nothing), Patience()
    found = look(line, patience)
    if found is None:
        raise SystemExit("the pretend module does not answer")
    poller = Poller(line, asks(plan(found)), patience)

    def step() -> Sequence[int]:
        exchange = poller.step()
        return exchange.request.asks if exchange is not None and exchange.answers else ()

    return step


def flat_out(asks: tuple[Ask, ...]) -> tuple[Ask, ...]:
    return tuple(replace(ask, every_s=FLAT_OUT_S) for ask in asks)


def isotp_loop(bus: can.BusABC) -> tuple[isotp.CanStack, Step]:
    """can-isotp's plain loop: one parameter, and the next one the next time."""
    stack = isotp.CanStack(
        bus, address=isotp.Address(isotp.AddressingMode.Normal_11bits, txid=0x7E0, rxid=0x7E8), params={"tx_padding": 0}
    )
    stack.start()
    turn = cycle(sorted(SUPPORTED))

    def step() -> Sequence[int]:
        pid = next(turn)
        stack.send(bytes((0x01, pid)))
        return () if stack.recv(block=True, timeout=0.1) is None else (pid,)

    return stack, step


def measured(name: str, step: Step, car: Car) -> Row:
    """SECONDS of steps."""
    answered: list[Sequence[int]] = []
    frames, spent_s, end_s = car.frames, time.process_time() - car.busy_s, time.monotonic() + SECONDS
    while time.monotonic() < end_s:
        answered.append(step())
    busy_s = time.process_time() - car.busy_s - spent_s
    pids = [pid for one in answered for pid in one]
    return Row(name, sum(map(bool, answered)), len(pids), pids.count(SPEED), busy_s, car.frames - frames)


def rows() -> list[Row]:
    found = []
    for name, asks in (("Poller at its pace", tuple), ("Poller flat out", flat_out)):
        car, bus = begun(name)
        found.append(measured(name, polled(bus, asks), car))
        ended(car, bus)
    car, bus = begun("can-isotp")
    stack, step = isotp_loop(bus)
    found.append(measured("can-isotp flat out", step, car))
    stack.stop()
    ended(car, bus)
    return found


def begun(channel: str) -> tuple[Car, can.BusABC]:
    car = Car(channel)
    bus = can.Bus(interface="virtual", channel=channel)
    car.start()
    return car, bus


def ended(car: Car, bus: can.BusABC) -> None:
    car.over = True
    car.join()
    car.bus.shutdown()
    bus.shutdown()


def main() -> None:
    print(f"{SECONDS:.0f} s each, {len(SUPPORTED)} parameters, answered after {DELAY_S * 1e3:g} ms")
    print(f"{'':20} {'questions/s':>12} {'values/s':>9} {'speeds/s':>9} {'µs/question':>12} {'bus share':>10}")
    for row in rows():
        share = row.frames * FRAME_BITS / BITS_A_SECOND / SECONDS
        print(
            f"{row.name:20} {row.questions / SECONDS:12.1f} {row.values / SECONDS:9.1f} {row.speeds / SECONDS:9.1f} "
            f"{row.busy_s / max(row.questions, 1) * 1e6:12.0f} {share:10.1%}"
        )


if __name__ == "__main__":
    main()
