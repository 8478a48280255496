"""All that can be said on a bus, as types that nothing else can be written in.

    Request   a question of one of the reading services, to one module or to all
    GoOn      flow control: let a module send the rest of its answer
    Reply     one frame of an answer, by a capture or scenario that plays a car
    Recorded  one frame of a recording, by a replay

A Request has no field for bytes: it names a service and what is asked of it. Whoever plays a car or replays a
recording cannot say anything that a module would act upon either: a Reply goes out under a module's identifier only,
and a Recorded under a tester's identifier must itself be a reading question or flow control.

Sources: SAE J1979 / ISO 15031-5 (services 01 to 0A), SAE J1979-2 (22 with F4xx, F8xx), ISO 15765-4 (identifiers).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from relearn.bus.address import Address, hex_of, is_module, is_tester, not_said
from relearn.bus.frame import Frame
from relearn.bus.segments import FLOW_CONTROL, FRAME, padded
from relearn.capture.assemble import FD_LENGTHS, MAX_11, MAX_29

FLOW = 3  # N_PCI type of ISO 15765-2
BYTE = range(0x100)


class Service(IntEnum):
    """The services that read and change nothing."""

    CURRENT_DATA = 0x01
    FREEZE_FRAME = 0x02
    STORED_CODES = 0x03
    PENDING_CODES = 0x07
    VEHICLE_INFORMATION = 0x09
    PERMANENT_CODES = 0x0A
    BY_IDENTIFIER = 0x22


MOST_ASKED = {
    Service.CURRENT_DATA: 6,
    Service.FREEZE_FRAME: 3,
    Service.STORED_CODES: 0,
    Service.PENDING_CODES: 0,
    Service.VEHICLE_INFORMATION: 1,
    Service.PERMANENT_CODES: 0,
    Service.BY_IDENTIFIER: 3,
}
"""How many parameters, infotypes or identifiers one request may name; a service with any needs at least one."""

READABLE_IDENTIFIERS = (0xF4, 0xF8)  # high bytes: parameters and infotypes of SAE J1979-2


@dataclass(frozen=True)
class Request:
    """A question. asks: parameters (01), parameters of freeze frame 0 (02), an infotype (09), identifiers F4xx or F8xx
    (22); nothing for codes (03, 07, 0A). Anything else is a BusError."""

    to: Address
    service: Service
    asks: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if type(self.to) is not Address or type(self.service) is not Service:
            raise not_said("a question needs an Address and one of the reading services")
        if type(self.asks) is not tuple:
            raise not_said("what is asked must be a tuple, which nobody can change afterwards")
        most = MOST_ASKED[self.service]
        if not min(most, 1) <= len(self.asks) <= most:
            raise not_said(f"service {self.service:02X} asks {min(most, 1)} to {most} things, not {len(self.asks)}")
        if not all(_readable(self.service, one) for one in self.asks):
            raise not_said(f"service {self.service:02X} does not read {', '.join(f'{one!r}' for one in self.asks)}")

    @property
    def payload(self) -> bytes:
        """The service byte and what is asked."""
        width = 2 if self.service is Service.BY_IDENTIFIER else 1
        frame_number = b"\x00" if self.service is Service.FREEZE_FRAME else b""
        return bytes((self.service,)) + b"".join(one.to_bytes(width, "big") + frame_number for one in self.asks)

    @property
    def data(self) -> bytes:
        """The one frame that it fits in."""
        return padded(bytes((len(self.payload),)) + self.payload)


@dataclass(frozen=True)
class GoOn:
    """Flow control to one module: send the rest, all at once, no pause."""

    to: Address

    def __post_init__(self) -> None:
        if type(self.to) is not Address or self.to.everyone:
            raise not_said("flow control goes to one module")

    @property
    def data(self) -> bytes:
        """The one frame."""
        return padded(FLOW_CONTROL)


@dataclass(frozen=True)
class Reply:
    """One frame of an answer under a module's identifier: 7E8 to 7EF, 18DAF1xx. Any other is a BusError."""

    identifier: int
    extended: bool
    data: bytes

    def __post_init__(self) -> None:
        if type(self.identifier) is not int or not is_module(self.identifier, self.extended):
            raise not_said(f"{hex_of(self.identifier)} is no identifier that ISO 15765-4 gives to a module")
        if type(self.data) is not bytes or len(self.data) > FRAME:
            raise not_said(f"an answer's frame is at most {FRAME} bytes")


@dataclass(frozen=True)
class Recorded:
    """One frame as it was recorded. Under a tester's identifier it must be a reading question in a single frame, or
    flow control; else a BusError."""

    frame: Frame

    def __post_init__(self) -> None:
        frame = self.frame
        if type(frame) is not Frame or frame.error or not _possible(frame):
            raise not_said("this is no frame that can be on a bus")
        if is_tester(frame.identifier, frame.extended) and not (is_flow(frame.data) or reads(frame.data)):
            raise not_said(f"{frame.identifier:X}#{frame.data.hex().upper()} is no question of a reading service")


Said = Request | GoOn | Reply | Recorded


def _possible(frame: Frame) -> bool:
    """A frame as ISO 11898-1 has them: an identifier of 11 or 29 bits, as many bytes as classic CAN or CAN FD carry."""
    most = MAX_29 if frame.extended else MAX_11
    return (
        type(frame.identifier) is int
        and 0 <= frame.identifier <= most
        and type(frame.data) is bytes
        and len(frame.data) in FD_LENGTHS
    )


def is_flow(data: bytes) -> bool:
    """A flow control frame."""
    return len(data) >= len(FLOW_CONTROL) and data[0] >> 4 == FLOW


def reads(data: bytes) -> bool:
    """A single frame whose whole payload a Request could express, other freeze frames than 0 besides."""
    payload = single(data)
    return payload is not None and payload[0] in set(Service) and _asks_well(Service(payload[0]), payload[1:])


def single(data: bytes) -> bytes | None:
    """The payload of a single frame of classic CAN; None for anything else."""
    length = data[0] if data else 0
    return data[1 : 1 + length] if 1 <= length < min(len(data), FRAME) else None


def _asks_well(service: Service, rest: bytes) -> bool:
    width = 2 if service in (Service.BY_IDENTIFIER, Service.FREEZE_FRAME) else 1
    count, odd = divmod(len(rest), width)
    if odd or not min(MOST_ASKED[service], 1) <= count <= MOST_ASKED[service]:
        return False
    return service is not Service.BY_IDENTIFIER or all(high in READABLE_IDENTIFIERS for high in rest[::2])


def _readable(service: Service, asked: object) -> bool:
    if type(asked) is not int:
        return False
    return asked >> 8 in READABLE_IDENTIFIERS if service is Service.BY_IDENTIFIER else asked in BYTE
