"""The one door to a bus: everything opened, said and heard goes through here, and everything is witnessed.

Times are of our own clock at the moment of saying or hearing, so that they never run backwards and every adapter's are
alike; an adapter's own stamps count from its power-up, its driver's start or 1970, as it likes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import can

from relearn.bus.clock import Clock
from relearn.bus.echoes import Echoes
from relearn.bus.frame import Frame
from relearn.bus.manners import Manners
from relearn.bus.multicast import settled
from relearn.bus.round_trip import RoundTrips
from relearn.bus.speech import GoOn, Recorded, Reply, Request, Said
from relearn.errors import BusError

GONE = (can.CanError, OSError)  # what python-can and the drivers below it raise; pyserial's is an OSError
OPENING = (*GONE, ValueError, TypeError, ImportError, NotImplementedError)
GARBLED = (ValueError, IndexError)  # what a driver in Python says of bytes that are no frame
MOST_GARBLED = 100  # so many in a row are no disturbance but a wrong adapter or a wrong speed of its port
SLICE_S = 0.25  # a long wait comes in slices, so that the recording reaches the disk and a key is heard meanwhile
AnyBus = can.BusABC  # an open bus, for whoever holds one without talking to it
Witness = Callable[[Frame], None]
Tick = Callable[[float], None]


class NotTaken(BusError):
    """The adapter takes nothing to send just now: its queue is full, as it is while nobody on the bus confirms."""


class BusOff(BusError):
    """The adapter has left the bus after too many errors (ISO 11898-1)."""


@dataclass(frozen=True)
class Interface:
    """Which adapter, as python-can names them; None leaves it to python-can's configuration file and environment.

    options: whatever else the interface takes.
    """

    interface: str | None = None
    channel: str | None = None
    bitrate: int | None = None
    options: Mapping[str, str | int | float | bool] = field(default_factory=dict)

    def given(self) -> dict[str, Any]:
        """Only what was given, for can.Bus."""
        named = {"interface": self.interface, "channel": self.channel, "bitrate": self.bitrate}
        return {**{name: value for name, value in named.items() if value is not None}, **self.options}


def opened(interface: Interface) -> can.BusABC:
    """The bus. BusError: no interface named anywhere, none of this name, the adapter is not there or taken.

    On udp_multicast each group has a port of its own: 43113 and the last two bytes of its address modulo 16384, unless
    one is named; and frames stay on this machine (`multicast.settled`).
    """
    given = interface.given()
    try:
        return can.Bus(**settled(given, can.util.load_config(config=dict(given))))
    except OPENING as wrong:
        raise _not_opened(interface, wrong) from wrong


def _not_opened(interface: Interface, wrong: BaseException) -> BusError:
    if interface.interface is None and "interface" in str(wrong).lower():
        return BusError(
            "no CAN interface is named",
            remedy="give --interface and --channel, or name them in python-can's configuration file or environment",
        )
    place = " ".join(str(one) for one in (interface.interface, interface.channel) if one is not None)
    return BusError(
        f"the interface {place} cannot be opened ({type(wrong).__name__}: {wrong})",
        remedy="check the adapter, its driver, and --interface, --channel and --bitrate",
    )


ONLY_SOFTWARE = ("can.interfaces.virtual", "can.interfaces.udp_multicast")


def only_software(bus: can.BusABC) -> bool:
    """A bus between programs, on which no car can be."""
    return type(bus).__module__.startswith(ONLY_SOFTWARE)


def nothing(now_s: float) -> None:
    """A tick that does nothing."""


class Line:
    """An open bus on one clock. `witness` sees every frame, said and heard, in order, and none twice: what a bus hands
    back of our own is not heard. `tick` is told the time whenever somebody listens, every SLICE_S at least.

    manners: whether a tester may speak now; trips: how long answers take. Both learn from every frame."""

    def __init__(self, bus: can.BusABC, clock: Clock, witness: Witness, tick: Tick = nothing) -> None:
        self._bus, self.clock, self._witness, self._tick = bus, clock, witness, tick
        self._garbled = 0
        self._echoes, self._said_under = Echoes(), set[tuple[int, bool]]()
        self.manners, self.trips = Manners(), RoundTrips()

    def say(self, said: Said) -> Frame:
        """Say it now; the frame as it went out. NotTaken: the adapter does not take it. HeldBack: nothing may be
        asked now."""
        if type(said) is Request or type(said) is GoOn:
            self.manners.check(self.clock.now_s())
        frame = send(self._bus, said, self.clock.now_s())
        if type(said) is Request:
            self.trips.said(said, frame.time_s)
        self._echoes.said(frame)
        self._said_under.add((frame.identifier, frame.extended))
        self._witness(frame)
        return frame

    def hear(self, until_s: float) -> Frame | None:
        """The next frame; None when there is none up to `until_s`, of a past moment when none waits already.

        Bytes that are no frame are an error frame. BusError: the adapter is gone.
        """
        while True:
            now_s = self.clock.now_s()
            self._tick(now_s)
            message = self._receive(min(max(until_s - now_s, 0.0), SLICE_S))
            if message is not None and (frame := self._news(message)) is not None:
                self.manners.heard(frame)
                self.trips.heard(frame)
                self._witness(frame)
                return frame
            if message is None and self.clock.now_s() >= until_s:
                return None

    def _news(self, message: can.Message) -> Frame | None:
        """The frame, if somebody else has sent it: some adapters mark our own, a multicast socket does not."""
        if not message.is_rx or message.is_remote_frame:
            return None
        frame = _frame(message, self.clock.now_s())
        own = (frame.identifier, frame.extended) in self._said_under and self._echoes.back(frame)
        return None if own else frame

    def check(self) -> None:
        """BusOff: the adapter says that it has left the bus. One that tells nothing is taken to be on it."""
        if is_off(self._bus):
            raise BusOff("the adapter has left the bus (bus-off)", remedy="check bitrate, plug and wiring")

    def _receive(self, timeout_s: float) -> can.Message | None:
        try:
            message = receive(self._bus, timeout_s)
        except GARBLED as wrong:
            self._garbled += 1
            if self._garbled > MOST_GARBLED:
                raise gone(wrong) from wrong
            return can.Message(is_error_frame=True)
        self._garbled = 0
        return message

    def close(self) -> None:
        """Close the bus. BusError: the adapter was gone already."""
        let_go(self._bus)


def send(bus: can.BusABC, said: Said, now_s: float) -> Frame:
    """The one place where anything goes out to a bus. Only the types of `speech` pass."""
    frame = spoken(said, now_s)
    message = can.Message(
        arbitration_id=frame.identifier,
        is_extended_id=frame.extended,
        data=frame.data,
        is_fd=len(frame.data) > 8,
        check=True,
    )
    try:
        bus.send(message)
    except GONE as wrong:
        raise NotTaken(
            f"the adapter does not take what is to be sent ({type(wrong).__name__}: {wrong})",
            remedy="check that the ignition is on, the plug, the cable and the bitrate",
        ) from wrong
    return frame


def spoken(said: Said, now_s: float) -> Frame:
    """The frame that says it. Anything but the four types themselves, a look-alike or subclass too, is a BusError."""
    if type(said) is Request or type(said) is GoOn:
        return Frame(now_s, said.to.identifier, said.to.extended, said.data)
    if type(said) is Reply:
        return Frame(now_s, said.identifier, said.extended, said.data)
    if type(said) is Recorded:
        return Frame(now_s, said.frame.identifier, said.frame.extended, said.frame.data)
    raise BusError(
        f"{type(said).__name__} is nothing that can be said", remedy="say one of the types of relearn.bus.speech"
    )


def receive(bus: can.BusABC, timeout_s: float) -> can.Message | None:
    """The next message, None when none comes within the time. BusError: the adapter is gone."""
    try:
        return bus.recv(timeout_s)
    except GONE as wrong:
        raise gone(wrong) from wrong


def let_go(bus: can.BusABC) -> None:
    """Close a bus. BusError: its adapter is gone."""
    try:
        bus.shutdown()
    except GONE as wrong:
        raise gone(wrong) from wrong


def is_off(bus: can.BusABC) -> bool:
    """Whether the adapter says that it is bus-off. BusError: it is gone."""
    try:
        return bus.state is can.BusState.ERROR
    except NotImplementedError:
        return False
    except GONE as wrong:
        raise gone(wrong) from wrong


def gone(wrong: BaseException) -> BusError:
    """The adapter, the cable or the driver gave up."""
    return BusError(
        f"the adapter no longer answers ({type(wrong).__name__}: {wrong})", remedy="check its plug and its cable"
    )


def _frame(message: can.Message, now_s: float) -> Frame:
    return Frame(
        now_s, message.arbitration_id, bool(message.is_extended_id), bytes(message.data), bool(message.is_error_frame)
    )
