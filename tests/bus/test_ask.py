"""One question and its answers, in counted time: ISO 15765-2 (frames), ISO 15765-4 (times), ISO 14229-1 (refusals)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from relearn.bus.address import ALL_11, Address
from relearn.bus.answering import Answering, Spoken
from relearn.bus.ask import LONGEST_S, STRAGGLERS_S, Asking, Patience, ask, complete, drain, told
from relearn.bus.frame import Frame
from relearn.bus.segments import segments
from relearn.bus.speech import Request, Service
from relearn.bus.wire import Line
from tests.bus.simulated import FRAME_S, CountedBus, CountedClock, Table, Trouble, good

ENGINE = Address(0x7E0)
SPEED = Request(ENGINE, Service.CURRENT_DATA, (0x0C,))
VIN = Request(ENGINE, Service.VEHICLE_INFORMATION, (0x02,))
VIN_SAID = "490201" + b"1M8GDM9AXKP042788".hex()  # 49 CFR 565's worked example
PATIENCE = Patience()


class Two:
    """Two modules that answer everything with the same payload, the second 30 ms after the first."""

    def __init__(self, payload: str) -> None:
        self.payload = bytes.fromhex(payload)

    def says(self, payload: bytes, to: Address, now_s: float) -> Sequence[Spoken]:
        return [Spoken(0x7E8, False, 0.005, self.payload), Spoken(0x7E9, False, 0.035, self.payload)]


def at_car(*cars: Any, trouble: Trouble = good) -> tuple[Line, CountedBus, list[Frame]]:
    clock, seen = CountedClock(), list[Frame]()
    bus = CountedBus(clock, *(Answering(car) for car in cars), trouble=trouble)
    return Line(bus, clock, seen.append), bus, seen


def payloads(line: Line, request: Request, patience: Patience = PATIENCE) -> list[str]:
    return [one.payload.hex() for one in ask(line, request, patience).answers]


def said(bus: CountedBus) -> list[str]:
    return [frame.data.hex() for frame in bus.sent]


def from_module(bus: CountedBus, after_s: float, data: str, identifier: int = 0x7E8) -> None:
    """A frame that comes at this time, whatever is asked."""
    bus.put(Frame(bus.clock.now_s() + after_s, identifier, False, bytes.fromhex(data).ljust(8, b"\x00")))


def lost(*numbers: int) -> Trouble:
    """Loses these frames of modules, counted from 0."""
    count = iter(range(1000))

    def trouble(frame: Frame) -> Sequence[float]:
        return () if frame.identifier >= 0x7E8 and next(count) in numbers else (0.0,)

    return trouble


def test_a_question_to_one_module_is_over_with_its_answer() -> None:
    line, _, seen = at_car(Table({"010C": "410C0BB8"}))
    exchange = ask(line, SPEED, PATIENCE)
    assert [one.payload.hex() for one in exchange.answers] == ["410c0bb8"]
    assert complete(exchange)
    assert exchange.ended_s - exchange.sent_s == pytest.approx(0.005, abs=1e-3)
    assert [frame.identifier for frame in seen] == [0x7E0, 0x7E8]


def test_a_question_to_all_waits_for_all() -> None:
    """ISO 15765-4: each module begins its answer within P2."""
    line, _, _ = at_car(Two("410C0BB8"))
    exchange = ask(line, Request(ALL_11, Service.CURRENT_DATA, (0x0C,)), PATIENCE)
    assert [one.identifier for one in exchange.answers] == [0x7E8, 0x7E9]
    assert exchange.ended_s - exchange.sent_s == pytest.approx(PATIENCE.first_s)


def test_silence_is_awaited_for_p2_and_what_the_adapter_adds() -> None:
    line, _, _ = at_car(Table({}))
    exchange = ask(line, SPEED, Patience(answer_s=0.05, adapter_s=0.02))
    assert not exchange.answers and exchange.heard_s is None
    assert exchange.ended_s - exchange.sent_s == pytest.approx(0.07)


def test_a_long_answer_is_asked_to_go_on_and_put_together() -> None:
    line, bus, _ = at_car(Table({"0902": VIN_SAID}))
    assert payloads(line, VIN) == [VIN_SAID]
    assert said(bus) == ["0209020000000000", "3000000000000000"]


def test_long_answers_of_two_modules_are_kept_apart() -> None:
    """Their frames come interleaved: the second begins before the first is whole."""

    class Slow(Two):
        def says(self, payload: bytes, to: Address, now_s: float) -> Sequence[Spoken]:
            return [Spoken(one, False, 0.005, self.payload + bytes((one & 0xF,))) for one in (0x7E8, 0x7E9)]

    line, bus, seen = at_car(Slow("490A01" + "41" * 40))
    exchange = ask(line, Request(ALL_11, Service.VEHICLE_INFORMATION, (0x0A,)), PATIENCE)
    assert [one.payload[-1] for one in exchange.answers] == [8, 9]
    assert [frame.identifier for frame in bus.sent] == [0x7DF, 0x7E0, 0x7E1]
    spoken = [frame.identifier for frame in seen if frame.identifier >= 0x7E8]
    assert spoken[2:6] == [0x7E8, 0x7E9, 0x7E8, 0x7E9]


@pytest.mark.parametrize("number", [1, 2])
def test_a_long_answer_that_lost_a_frame_is_no_answer(number: int) -> None:
    line, _, _ = at_car(Table({"0902": VIN_SAID}), trouble=lost(number))
    assert payloads(line, VIN) == []
    assert payloads(line, VIN) == [VIN_SAID]


def test_a_frame_that_comes_twice_ends_a_long_answer() -> None:
    line, _, _ = at_car(
        Table({"0902": VIN_SAID}), trouble=lambda frame: (0.0, 0.0) if frame.data[0] == 0x21 else (0.0,)
    )
    assert payloads(line, VIN) == []


def test_the_end_of_a_long_answer_is_awaited_for_n_cr() -> None:
    """ISO 15765-2: 1000 ms from the flow control."""
    line, _, _ = at_car(Table({"0902": VIN_SAID}), trouble=lost(1, 2))
    exchange = ask(line, VIN, PATIENCE)
    assert exchange.ended_s - exchange.sent_s == pytest.approx(1.0 + PATIENCE.adapter_s, abs=0.01)


def test_nothing_is_asked_right_behind_a_long_answer() -> None:
    line, _, seen = at_car(Table({"0902": VIN_SAID}))
    exchange = ask(line, VIN, PATIENCE)
    assert exchange.ended_s - seen[-1].time_s == pytest.approx(STRAGGLERS_S)


def test_response_pending_is_waited_for() -> None:
    line, bus, _ = at_car(Table({"0902": ["7F0978", VIN_SAID]}, delay_s=0.04))
    exchange = ask(line, VIN, PATIENCE)
    assert exchange.pending == 1 and len(exchange.answers) == 1 and not exchange.refusals

    line, bus, _ = at_car()
    from_module(bus, 0.04, "037F0178")
    from_module(bus, 4.9, "04410C0BB8")
    assert payloads(line, SPEED) == ["410c0bb8"]


def test_response_pending_that_nothing_follows_ends_after_p2_star() -> None:
    line, _, _ = at_car(Table({"010C": "7F0178"}))
    exchange = ask(line, SPEED, PATIENCE)
    assert exchange.ended_s - exchange.sent_s == pytest.approx(5.0 + PATIENCE.adapter_s, abs=0.01)


def test_response_pending_for_ever_has_an_end() -> None:
    line, bus, _ = at_car()
    for number in range(20):
        from_module(bus, 0.04 + 4 * number, "037F0178")
    exchange = ask(line, SPEED, PATIENCE)
    assert exchange.ended_s - exchange.sent_s == pytest.approx(LONGEST_S)


def test_a_refusal_is_no_answer_and_ends_it() -> None:
    line, _, _ = at_car(Table({"010C": "7F0112"}))
    exchange = ask(line, SPEED, PATIENCE)
    assert not exchange.answers and exchange.codes == {0x12}
    assert exchange.ended_s - exchange.sent_s < PATIENCE.answer_s


@pytest.mark.parametrize("other", ["04410D0000", "0441040BB8", "0462F40C0B", "0641000000FF", "037F0912", "0341", "00"])
def test_an_answer_to_another_question_is_nobodys_answer(other: str) -> None:
    """It came late, or another tester asked for it. It is witnessed all the same."""
    line, bus, seen = at_car(Table({"010C": "410C0BB8"}, delay_s=0.02))
    from_module(bus, 0.01, other)
    exchange = ask(line, SPEED, PATIENCE)
    assert [one.payload.hex() for one in exchange.answers] == ["410c0bb8"] and not exchange.refusals
    assert len(seen) == 3


def test_what_waits_from_before_is_heard_before_the_question() -> None:
    line, bus, seen = at_car(Table({"010C": "410C0BB8"}))
    from_module(bus, 0.0, "04410C1111")
    assert payloads(line, SPEED) == ["410c0bb8"]
    assert [frame.identifier for frame in seen] == [0x7E8, 0x7E0, 0x7E8]


def test_another_module_does_not_answer_for_the_one_that_was_asked() -> None:
    line, bus, _ = at_car()
    from_module(bus, 0.01, "04410C0BB8", 0x7E9)
    exchange = ask(line, SPEED, PATIENCE)
    assert not exchange.answers and exchange.heard_s is None


def test_another_testers_long_answer_is_not_asked_to_go_on() -> None:
    line, bus, _ = at_car()
    from_module(bus, 0.01, segments(bytes.fromhex(VIN_SAID))[0].hex())
    ask(line, SPEED, PATIENCE)
    assert said(bus) == ["02010c0000000000"]


def test_a_busy_bus_does_not_keep_a_question_open() -> None:
    line, bus, _ = at_car()
    for number in range(2000):
        bus.put(Frame(bus.clock.now_s() + number * FRAME_S, 0x123, False, bytes(8)))
    exchange = ask(line, SPEED, PATIENCE)
    assert exchange.ended_s - exchange.sent_s == pytest.approx(PATIENCE.first_s, abs=2 * FRAME_S)


def test_a_question_can_be_followed_in_parts() -> None:
    line, _, _ = at_car(Table({"010C": "410C0BB8"}, delay_s=0.04))
    asking = Asking(line, SPEED, PATIENCE)
    start_s = line.clock.now_s()
    assert asking.go(start_s + 0.02) is None
    assert line.clock.now_s() == pytest.approx(start_s + 0.02)
    exchange = asking.go(start_s + 0.06)
    assert exchange is not None and complete(exchange)


def test_waiting_frames_are_drained() -> None:
    line, bus, seen = at_car()
    from_module(bus, 0.0, "00")
    from_module(bus, 1.0, "00")
    drain(line)
    assert len(seen) == 1


@pytest.mark.parametrize(
    ("asks", "payload", "count"),
    [
        ((0x0C, 0x0D), "410C0BB80D00", 2),
        ((0x0C, 0x0D), "410D000C0BB8", 2),  # SAE J1979 leaves the order to the module
        ((0x0C, 0x0D), "410C0BB8", 1),
        ((0x0C, 0x0D), "410C0BB80D", 0),  # cut short
        ((0x0C, 0x0D), "410C0BB80500", 0),  # not asked
        ((0x0C,), "410C0BB80D00", 1),
    ],
)
def test_what_an_answer_tells_of_what_was_asked(asks: tuple[int, ...], payload: str, count: int) -> None:
    assert len(told(Request(ENGINE, Service.CURRENT_DATA, asks), bytes.fromhex(payload))) == count
