"""The loop that lets a pretend car answer, in counted time: on a bus that echoes too, and never beside another car."""

from __future__ import annotations

from functools import cache

import can
import pytest

from relearn.bus.address import Address
from relearn.bus.answering import Answering
from relearn.bus.captured import Captured, captured
from relearn.bus.frame import Frame
from relearn.bus.serve import Cue, Cues, Paced, quiet, serve
from relearn.bus.speech import GoOn, Recorded
from relearn.bus.wire import Line
from relearn.capture import load
from relearn.errors import BusError
from tests.bus.captures import CAPTURES, TESTERS, lines
from tests.bus.simulated import START_S, CountedBus, CountedClock, Table

SPEED = Table({"010C": "410C0BB8"})


class EchoingBus(CountedBus):
    """Hears what it sends, as a multicast socket does."""

    def send(self, msg: can.Message, timeout: float | None = None) -> None:
        super().send(msg, timeout)
        self.put(self.sent[-1])


def bus_with(*heard: tuple[float, int, str], kind: type[CountedBus] = CountedBus) -> tuple[CountedBus, Line]:
    """A bus on which others say these frames: seconds from the start, identifier, data."""
    clock = CountedClock()
    bus = kind(clock)
    for at_s, identifier, data in heard:
        bus.put(Frame(START_S + at_s, identifier, identifier > 0x7FF, bytes.fromhex(data)))
    return bus, Line(bus, clock, lambda frame: None)


ASKED = (0.5, 0x7DF, "02010C0000000000")


@pytest.mark.parametrize("kind", [CountedBus, EchoingBus])
def test_it_answers_until_its_end(kind: type[CountedBus]) -> None:
    bus, line = bus_with(ASKED, (0.7, *ASKED[1:]), (1.2, *ASKED[1:]), kind=kind)
    answering = Answering(SPEED)
    serve(line, answering, START_S + 1.0)
    assert [frame.data.hex() for frame in bus.sent] == ["04410c0bb8000000"] * 2
    assert answering.answered == 2
    assert [round(frame.time_s - START_S, 2) for frame in bus.sent] == [
        0.51,
        0.71,
    ]  # asked + 5 ms, and the frame itself


def test_it_stops_when_it_is_told_to() -> None:
    bus, line = bus_with(ASKED)
    serve(line, Answering(SPEED), START_S + 1.0, stopped=lambda: line.clock.now_s() > START_S + 0.4)
    assert bus.sent == []
    assert line.clock.now_s() < START_S + 0.6


def test_another_module_on_the_bus_ends_it() -> None:
    bus, line = bus_with(ASKED, (0.6, 0x7E9, "04410C0BB8000000"), (0.7, *ASKED[1:]))
    with pytest.raises(BusError, match="7E9#04410C0BB8000000"):
        serve(line, Answering(SPEED), START_S + 1.0)
    assert len(bus.sent) == 1


@pytest.mark.parametrize("heard", [(1.9, 0x7E8, "00"), (0.0, 0x123, "00"), (1.0, 0x18DAF110, "00")])
def test_it_does_not_begin_on_a_bus_in_use(heard: tuple[float, int, str]) -> None:
    with pytest.raises(BusError, match="in use"):
        quiet(bus_with(ASKED, heard)[1])


@pytest.mark.parametrize("heard", [ASKED, (2.1, 0x7E8, "00"), (1.0, 0x18DB33F1, "02010C")])
def test_a_tester_may_be_there_before_it(heard: tuple[float, int, str]) -> None:
    line = bus_with(heard)[1]
    quiet(line)
    assert line.clock.now_s() == pytest.approx(START_S + 2.0)


def test_the_cars_time_passes_faster_but_its_answers_take_as_long() -> None:
    clock = CountedClock()
    paced = Paced(demo("two-modules.log"), clock.now_s(), from_s=10.0, speed=20.0)
    now_s, later_s = (paced.says(bytes.fromhex("011F"), Address(0x7E0), START_S + at_s) for at_s in (0.0, 1.0))
    run_time_s = [int.from_bytes(one[0].payload[2:], "big") for one in (now_s, later_s)]
    assert run_time_s[1] - run_time_s[0] in (18, 20, 22)  # asked every 2 s, whole seconds
    assert 0.002 <= later_s[0].delay_s <= 0.020
    assert paced.clock_s(30.0) == START_S + 1.0


def test_cues_are_told_when_they_are_due_and_once() -> None:
    told: list[str] = []
    cues = Cues([Cue(2.0, "later"), Cue(1.0, "first")], told.append)
    for now_s in (0.9, 1.0, 1.5, 3.0, 4.0):
        cues.tick(now_s)
    assert told == ["first", "later"]


@cache
def demo(name: str) -> Captured:
    return captured(load(CAPTURES / name))


@pytest.mark.parametrize("name", ["two-modules.log", "j1979-2.log"])
def test_asking_the_same_again_gives_the_same_bytes(name: str) -> None:
    """Everything that a capture's tester said is said again at its time: every module sends the very frames it sent."""
    clock = CountedClock()
    bus = CountedBus(clock, Answering(Paced(demo(name), START_S)))
    line, found, captured_ = Line(bus, clock, lambda frame: None), [], []
    for time_s, identifier, data in lines(name):
        if identifier not in TESTERS:
            captured_.append((identifier, data.hex()))
        elif data[0] >> 4 == 0:
            found += heard(line, START_S + time_s)
            line.say(Recorded(Frame(time_s, identifier, False, data)))
    found += heard(line, clock.now_s() + 1.0)
    assert sorted(found) == sorted(captured_)
    assert len(found) > 1000


def heard(line: Line, until_s: float) -> list[tuple[int, str]]:
    """Module frames up to this time, with flow control behind each first frame."""
    found = []
    while (frame := line.hear(until_s)) is not None:
        found.append((frame.identifier, frame.data.hex()))
        if frame.data[0] >> 4 == 1:
            line.say(GoOn(Address.of_module(frame.identifier, False)))
    return found
