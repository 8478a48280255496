"""The one door to a bus: opening it, what a broken adapter does, and who sees what passes."""

from __future__ import annotations

from typing import Any

import can
import pytest

from relearn.bus.address import ALL_11
from relearn.bus.answering import Answering
from relearn.bus.clock import MachineClock
from relearn.bus.frame import Frame
from relearn.bus.multicast import settled
from relearn.bus.speech import Request, Service
from relearn.bus.wire import MOST_GARBLED, SLICE_S, BusOff, Interface, Line, NotTaken, let_go, opened
from relearn.errors import BusError
from tests.bus.simulated import START_S, CountedBus, CountedClock, Table
from tests.bus.steady import stray

SPEED = Request(ALL_11, Service.CURRENT_DATA, (0x0C,))
LOST = [can.CanOperationError("gone"), can.CanTimeoutError("late"), OSError(19, "No such device")]


class Broken(CountedBus):
    """A bus that raises what it is told to."""

    sending: BaseException | None = None
    hearing: BaseException | None = None
    closing: BaseException | None = None
    off = False

    def send(self, msg: can.Message, timeout: float | None = None) -> None:
        if self.sending is not None:
            raise self.sending
        super().send(msg, timeout)

    def recv(self, timeout: float | None = None) -> can.Message | None:
        if self.hearing is not None:
            raise self.hearing
        return super().recv(timeout)

    @property
    def state(self) -> can.BusState:
        return can.BusState.ERROR if self.off else can.BusState.ACTIVE

    def shutdown(self) -> None:
        closing, self.closing = self.closing, None
        super().shutdown()
        if closing is not None:
            raise closing


def line(bus: type[CountedBus] = CountedBus, *cars: Any) -> tuple[Line, Any, list[Frame], list[float]]:
    clock, seen, ticks = CountedClock(), list[Frame](), list[float]()
    made = bus(clock, *(Answering(car) for car in cars))
    return Line(made, clock, seen.append, ticks.append), made, seen, ticks


def test_everything_said_and_heard_is_witnessed_in_order() -> None:
    talking, _, seen, _ = line(CountedBus, Table({"010C": "410C0BB8"}))
    said = talking.say(SPEED)
    heard = talking.hear(START_S + 1.0)
    assert seen == [said, heard]
    assert [one.identifier for one in seen] == [0x7DF, 0x7E8]
    assert seen[0].time_s < seen[1].time_s


def test_a_long_wait_ticks_on_the_way() -> None:
    talking, _, _, ticks = line()
    assert talking.hear(START_S + 1.1) is None
    assert [round(one - START_S, 2) for one in ticks] == [0.0, 0.25, 0.5, 0.75, 1.0]
    assert SLICE_S <= 0.25
    assert talking.clock.now_s() == START_S + 1.1


def test_a_past_moment_only_hears_what_waits() -> None:
    talking, bus, _, _ = line()
    bus.put(stray(0.0))
    assert talking.hear(START_S - 1.0) is not None
    assert talking.hear(START_S - 1.0) is None
    assert talking.clock.now_s() == START_S


@pytest.mark.parametrize("wrong", LOST, ids=lambda one: type(one).__name__)
def test_an_adapter_that_cannot_be_heard_is_gone(wrong: BaseException) -> None:
    talking, bus, _, _ = line(Broken)
    bus.hearing = bus.closing = wrong
    with pytest.raises(BusError, match="no longer answers"):
        talking.hear(START_S + 1.0)
    with pytest.raises(BusError, match="no longer answers"):
        talking.close()


@pytest.mark.parametrize("wrong", LOST, ids=lambda one: type(one).__name__)
def test_an_adapter_that_takes_nothing_may_do_so_later(wrong: BaseException) -> None:
    talking, bus, seen, _ = line(Broken)
    bus.sending = wrong
    with pytest.raises(NotTaken, match="does not take"):
        talking.say(SPEED)
    assert not seen


def test_an_adapter_that_has_left_the_bus() -> None:
    talking, bus, _, _ = line(Broken)
    talking.check()
    bus.off = True
    with pytest.raises(BusOff, match="bus-off"):
        talking.check()


def test_bytes_that_are_no_frame_are_an_error_frame_and_too_many_of_them_an_adapter_that_is_gone() -> None:
    talking, bus, seen, _ = line(Broken)
    bus.hearing = ValueError("invalid literal for int() with base 16: 'zz8'")
    for _ in range(MOST_GARBLED):
        heard = talking.hear(START_S + 1.0)
        assert heard is not None and heard.error
    assert len(seen) == MOST_GARBLED
    with pytest.raises(BusError, match="no longer answers"):
        talking.hear(START_S + 1.0)


def test_our_own_frames_handed_back_and_remote_frames_are_not_heard() -> None:
    class Echoing(CountedBus):
        def recv(self, timeout: float | None = None) -> can.Message | None:
            message = super().recv(timeout)
            if message is not None:
                message.is_rx, message.is_remote_frame = message.arbitration_id != 0x1, message.arbitration_id == 0x2
            return message

    talking, bus, _, _ = line(Echoing)
    for identifier in (0x1, 0x2, 0x3):
        bus.put(stray(0.1, identifier))
    heard = talking.hear(START_S + 1.0)
    assert heard is not None and heard.identifier == 0x3


def test_a_bus_that_hands_back_our_own_as_if_it_were_heard() -> None:
    """As a multicast socket does: nothing in such a frame tells it from another's."""

    class Looping(CountedBus):
        def send(self, msg: can.Message, timeout: float | None = None) -> None:
            super().send(msg, timeout)
            self.put(stray(0.001, msg.arbitration_id, bytes(msg.data)))

    talking, bus, seen, _ = line(Looping, Table({"010C": "410C0BB8"}))
    said = talking.say(SPEED)
    bus.put(stray(0.2, 0x7DF, said.data))  # another tester asks the same
    heard = [talking.hear(START_S + 0.1), talking.hear(START_S + 0.3), talking.hear(START_S + 0.5)]
    assert [one and one.identifier for one in heard] == [0x7E8, 0x7DF, None]
    assert len(seen) == 3


def test_a_bus_of_python_can_is_opened_with_what_was_given() -> None:
    bus = opened(Interface("virtual", "relearn-test", options={"receive_own_messages": True}))
    assert bus.channel_info == "Virtual bus channel relearn-test"
    let_go(bus)


@pytest.mark.parametrize(
    ("interface", "says"),
    [
        (Interface("nonsense", "can0"), "nonsense can0 cannot be opened"),
        (Interface("slcan", "/nowhere/at/all"), "slcan /nowhere/at/all cannot be opened"),
        (Interface("slcan"), "cannot be opened"),
    ],
)
def test_an_adapter_that_is_not_there(interface: Interface, says: str) -> None:
    with pytest.raises(BusError, match=says):
        opened(interface)


def test_no_adapter_named_anywhere(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(can.util, "load_config", lambda **given: {"interface": None, "channel": None})
    with pytest.raises(BusError, match="no CAN interface is named"):
        opened(Interface())


@pytest.mark.parametrize(
    ("group", "port"),
    [
        ("239.74.163.2", 43113 + (163 * 256 + 2) % 16384),
        ("239.74.163.77", 43113 + (163 * 256 + 77) % 16384),
        ("ff15::7:beef", 43113 + 0xBEEF % 16384),
    ],
)
def test_each_multicast_group_has_a_port_of_its_own(group: str, port: int) -> None:
    given = {"interface": "udp_multicast", "channel": group}
    assert settled(given, given) == {**given, "port": port, "hop_limit": 0}
    assert settled({}, given) == {"port": port, "hop_limit": 0}  # named in the environment
    assert settled(given, {**given, "port": 5, "hop_limit": 2}) == given  # the port, too
    assert port < 1 << 16


def test_other_buses_and_the_default_group_are_left_alone() -> None:
    assert settled({"channel": "can0"}, {"interface": "socketcan", "channel": "can0"}) == {"channel": "can0"}
    assert settled({}, {"interface": "udp_multicast", "channel": None}) == {"hop_limit": 0}


@pytest.mark.parametrize("groups", [("239.74.163.91", "239.74.163.92"), ("ff15::1:91", "ff15::1:92")])
def test_two_groups_do_not_meet(groups: tuple[str, str]) -> None:
    try:
        buses = [opened(Interface("udp_multicast", group)) for group in (groups[0], *groups)]
    except BusError as wrong:
        pytest.skip(str(wrong))
    lines = [Line(bus, MachineClock(), lambda frame: None) for bus in buses]
    lines[0].say(SPEED)
    until_s = lines[0].clock.now_s() + 0.3
    heard = [one.hear(until_s) for one in lines[1:]]
    for one in lines:
        one.close()
    assert heard[0] is not None and heard[1] is None


def test_a_group_that_is_no_address() -> None:
    with pytest.raises(BusError, match="cannot be opened"):
        opened(Interface("udp_multicast", "nonsense"))
