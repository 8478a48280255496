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
from relearn.bus.frame import Frame
from relearn.bus.speech import GoOn, Recorded, Reply, Request, Said
from relearn.errors import BusError

GONE = (can.CanError, OSError)  # what python-can and the drivers below it raise; pyserial's is an OSError
OPENING = (*GONE, ValueError, TypeError, ImportError, NotImplementedError)
Witness = Callable[[Frame], None]


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
    """The bus. BusError: no interface named anywhere, none of this name, the adapter is not there or taken."""
    given = interface.given()
    if given.get("interface") == "udp_multicast":
        given.setdefault("hop_limit", 0)  # a pretend car stays on this machine unless somebody wants it otherwise
    try:
        return can.Bus(**given)
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


class Line:
    """An open bus on one clock. `witness` sees every frame, said and heard, in order."""

    def __init__(self, bus: can.BusABC, clock: Clock, witness: Witness) -> None:
        self._bus, self.clock, self._witness = bus, clock, witness

    def say(self, said: Said) -> Frame:
        """Say it now; the frame as it went out. BusError: the adapter does not take it."""
        frame = send(self._bus, said, self.clock.now_s())
        self._witness(frame)
        return frame

    def hear(self, until_s: float) -> Frame | None:
        """The next frame; None when there is none up to `until_s`, of a past moment when none waits already.

        BusError: the adapter is gone.
        """
        while (message := receive(self._bus, max(until_s - self.clock.now_s(), 0.0))) is not None:
            if message.is_rx and not message.is_remote_frame:  # some adapters hand back what we sent ourselves
                frame = _frame(message, self.clock.now_s())
                self._witness(frame)
                return frame
        return None

    def close(self) -> None:
        """Close the bus, an adapter that is gone included."""
        try:
            self._bus.shutdown()
        except GONE as wrong:
            raise gone(wrong) from wrong


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
        raise gone(wrong) from wrong
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


def gone(wrong: BaseException) -> BusError:
    """The adapter, the cable or the driver gave up."""
    return BusError(
        f"the adapter no longer answers ({type(wrong).__name__}: {wrong})",
        remedy="check its plug and cable, and begin again",
    )


def _frame(message: can.Message, now_s: float) -> Frame:
    return Frame(
        now_s, message.arbitration_id, bool(message.is_extended_id), bytes(message.data), bool(message.is_error_frame)
    )
