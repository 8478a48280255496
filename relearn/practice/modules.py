"""The car's modules as a tester meets them: a request in, the payloads of the answer out. None: no answer."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property

from relearn.bus.refusing import SERVICE_NOT_SUPPORTED, refusal
from relearn.j1979.encode import encode
from relearn.j1979.masks import mask
from relearn.j1979.refusals import PENDING
from relearn.j1979.table import parameters
from relearn.practice.scenario import Calibration, Module, Scenario, Stored, car

MASK_BASES = (0x00, 0x20, 0x40, 0x60)
PENDING_FOR = 0x06  # a verification number takes the module a while
VIN, IDENTIFICATIONS, VERIFICATION_NUMBERS, NAME = 0x02, 0x04, 0x06, 0x0A
INFOTYPES = (VIN, IDENTIFICATIONS, VERIFICATION_NUMBERS, NAME)


@dataclass(frozen=True)
class Answerer:
    """One module of one scenario: what it is, what it supports here, its program and its codes."""

    module: Module
    supported: frozenset[int]
    calibration: Calibration
    codes: Stored
    refuses: frozenset[int]
    vin: str | None

    def values(self, readings: Mapping[str, float]) -> Mapping[str, float]:
        """The car's readings and what this module says of itself."""
        lit = bool(self.codes.stored) or (self.module.learns_idle and readings.get("learning_lamp", 0.0) > 0.0)
        return {**readings, **self.status, "malfunction_lamp": float(lit)}

    @cached_property
    def status(self) -> Mapping[str, float]:
        """Number of codes and the monitors: the same through a whole capture."""
        complete = set(self.calibration.complete)
        said = {"stored_code_count": float(len(self.codes.stored))}
        for monitor in self.module.monitors:
            said[f"{monitor}_monitor_supported"] = 1.0
            said[f"{monitor}_monitor_status"] = float(monitor not in complete)
        return said


Service = Callable[[Answerer, bytes, Mapping[str, float]], bytes | None]


def answerers(scenario: Scenario) -> tuple[Answerer, ...]:
    """The modules that answer in a scenario, the first one with the VIN."""
    return tuple(_answerer(scenario, name, place == 0) for place, name in enumerate(scenario.modules))


def _answerer(scenario: Scenario, name: str, holds_vin: bool) -> Answerer:
    module = car().modules[name]
    lacks = set(scenario.lacks)
    return Answerer(
        module,
        frozenset(pid for pid in module.supported if pid not in lacks),
        module.calibrations[scenario.calibration],
        scenario.codes.get(name, Stored()),
        frozenset(scenario.refuses),
        car().vin if holds_vin else None,
    )


def answer(who: Answerer, request: bytes, readings: Mapping[str, float]) -> tuple[bytes, ...]:
    """The payloads sent for a request, in order: 'response pending' first where it takes long. Empty: not answered."""
    if request[0] in who.refuses:
        return (refusal(request[0], SERVICE_NOT_SUPPORTED),)
    service = SERVICES.get(request[0])
    payload = None if service is None else service(who, request, readings)
    if payload is None:
        return ()
    slow = request[-1] == PENDING_FOR and payload[0] in (0x49, 0x62) and payload[1] in (PENDING_FOR, 0xF8)
    return (refusal(request[0], PENDING), payload) if slow else (payload,)


def trouble_code_bytes(code: str) -> bytes:
    """SAE J2012: 'P0113' → 01 13."""
    number = "PCBU".index(code[0]) << 14 | int(code[1]) << 12 | int(code[2:], 16)
    return number.to_bytes(2, "big")


def current_data(who: Answerer, request: bytes, readings: Mapping[str, float]) -> bytes | None:
    """Service 01: one parameter or several; those not supported are left out."""
    data = b"".join(bytes((pid,)) + value for pid, value in _parameters(who, request[1:], readings))
    return b"\x41" + data if data else None


def freeze_frame(who: Answerer, request: bytes, readings: Mapping[str, float]) -> bytes | None:
    """Service 02, frame 0: the stored code under parameter 02, and the values kept with it."""
    pid, frame = request[1], request[2]
    if not who.codes.stored or frame != 0:
        return None
    if pid == 0x02:
        return bytes((0x42, pid, frame)) + trouble_code_bytes(who.codes.stored[0])
    found = {name: value for name, value in who.codes.freeze_frame.items() if name in _names(pid)}
    return bytes((0x42, pid, frame)) + encode(pid, found) if found else None


def by_identifier(who: Answerer, request: bytes, readings: Mapping[str, float]) -> bytes | None:
    """Service 22 of SAE J1979-2: F4xx is parameter xx, F8xx is infotype xx of service 09."""
    wanted = [int.from_bytes(request[at : at + 2], "big") for at in range(1, len(request), 2)]
    pids = bytes(identifier & 0xFF for identifier in wanted if identifier >> 8 == 0xF4)
    data = b"".join(bytes((0xF4, pid)) + value for pid, value in _parameters(who, pids, readings))
    for infotype in (identifier & 0xFF for identifier in wanted if identifier >> 8 == 0xF8):
        entries = _entries(who, infotype)
        data += bytes((0xF8, infotype)) + b"".join(entries) if entries else b""
    return b"\x62" + data if data else None


def vehicle_information(who: Answerer, request: bytes, readings: Mapping[str, float]) -> bytes | None:
    """Service 09: a count byte and the entries; infotype 00 is the mask of what is there."""
    infotype = request[1]
    if infotype == 0:
        return b"\x49\x00" + mask(frozenset(kind for kind in INFOTYPES if _entries(who, kind)), 0)
    entries = _entries(who, infotype)
    return bytes((0x49, infotype, len(entries))) + b"".join(entries) if entries else None


def _codes(service: int, pick: Callable[[Stored], Sequence[str]]) -> Service:
    def codes(who: Answerer, request: bytes, readings: Mapping[str, float]) -> bytes | None:
        """A count byte, then two bytes a code."""
        found = pick(who.codes)
        return bytes((service, len(found))) + b"".join(map(trouble_code_bytes, found))

    return codes


def _parameters(who: Answerer, pids: bytes, readings: Mapping[str, float]) -> list[tuple[int, bytes]]:
    values = who.values(readings)
    return [(pid, _data(who, pid, values)) for pid in pids if pid in MASK_BASES or pid in who.supported]


def _data(who: Answerer, pid: int, values: Mapping[str, float]) -> bytes:
    if pid in MASK_BASES:
        return mask(who.supported, pid)
    return encode(pid, {name: values[name] for name in _names(pid) if name in values})


@cache
def _names(pid: int) -> tuple[str, ...]:
    return tuple(signal.name for signal in parameters()[pid].signals)


def _entries(who: Answerer, infotype: int) -> list[bytes]:
    """One item per entry of an infotype, empty if the module has none."""
    if infotype == VIN:
        return [] if who.vin is None else [who.vin.encode()]
    if infotype == IDENTIFICATIONS:
        return [text.encode().ljust(16, b"\x00") for text in who.calibration.identifications]
    if infotype == VERIFICATION_NUMBERS:
        return [bytes.fromhex(number) for number in who.calibration.verification_numbers]
    name = who.module.name.encode().ljust(4, b"\x00") + b"-" + who.module.words.encode().ljust(15, b"\x00")
    return [name] if infotype == NAME else []


SERVICES: Mapping[int, Service] = {
    0x01: current_data,
    0x02: freeze_frame,
    0x03: _codes(0x43, lambda codes: codes.stored),
    0x07: _codes(0x47, lambda codes: codes.pending),
    0x09: vehicle_information,
    0x0A: _codes(0x4A, lambda codes: codes.permanent),
    0x22: by_identifier,
}
