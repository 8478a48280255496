"""A pretend car's side of ISO 15765-2, in counted time."""

from relearn.bus.address import ALL_11, Address
from relearn.bus.answering import Answering, separation_s
from relearn.bus.speech import GoOn, Request, Service
from relearn.bus.wire import Line
from tests.bus.simulated import CountedBus, CountedClock, Table

VIN = "490201" + b"1M8GDM9AXKP042788".hex()  # 49 CFR 565's worked example
ENGINE = Address(0x7E0)


def line(car: Table) -> Line:
    clock = CountedClock()
    return Line(CountedBus(clock, Answering(car)), clock, lambda frame: None)


def heard(line: Line, seconds: float = 0.5) -> list[str]:
    until_s, frames = line.clock.now_s() + seconds, []
    while (frame := line.hear(until_s)) is not None:
        frames.append(frame.data.hex())
    return frames


def test_a_single_frame_is_answered_at_once() -> None:
    bus = line(Table({"010C": "410C0BB8"}))
    bus.say(Request(ALL_11, Service.CURRENT_DATA, (0x0C,)))
    assert heard(bus) == ["04410c0bb8000000"]


def test_a_long_answer_waits_for_flow_control() -> None:
    """ISO 15765-2: first frame, flow control, consecutive frames."""
    bus = line(Table({"0902": VIN}))
    bus.say(Request(ENGINE, Service.VEHICLE_INFORMATION, (0x02,)))
    assert heard(bus) == ["1014490201314d38"]
    bus.say(GoOn(ENGINE))
    assert heard(bus) == ["2147444d3941584b", "2250303432373838"]


def test_without_flow_control_the_rest_is_never_sent() -> None:
    bus = line(Table({"0902": VIN}))
    bus.say(Request(ENGINE, Service.VEHICLE_INFORMATION, (0x02,)))
    assert heard(bus, 1.5) == ["1014490201314d38"]
    bus.say(GoOn(ENGINE))  # N_Bs of ISO 15765-2 is over
    assert heard(bus) == []


def test_the_pause_of_a_flow_control() -> None:
    """ISO 15765-2, STmin: 00 to 7F are milliseconds, F1 to F9 hundreds of microseconds, reserved values the longest."""
    assert [round(separation_s(pause), 4) for pause in (0x00, 0x0A, 0x7F, 0xF1, 0xF9, 0x80, 0xFA)] == [
        0.0,
        0.01,
        0.127,
        0.0001,
        0.0009,
        0.127,
        0.127,
    ]
