"""What a question asks for, thing by thing, and where each lies in an answer.

A thing is written as the question that asks for it alone: 01 0C, 22 F4 0C, 02 0C 00, 09 02, 03. Its bytes in an answer
begin with the identifier, so that an answer is its service byte and the bytes of its things one behind the other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache

from relearn.bus.segments import padded
from relearn.bus.speech import Service, reads
from relearn.j1979 import identity
from relearn.j1979.records import MASKS
from relearn.j1979.services import ANSWERED
from relearn.j1979.table import parameters

WIDTHS = {Service.CURRENT_DATA: 1, Service.FREEZE_FRAME: 2, Service.VEHICLE_INFORMATION: 1, Service.BY_IDENTIFIER: 2}
"""Bytes that name a thing behind the service byte, a freeze frame's number among them; the code services have none."""
SERVICES = frozenset(int(service) for service in Service)
PARAMETERS, INFOTYPES = 0xF4, 0xF8  # high bytes of SAE J1979-2's identifiers
MANY = 1024  # different questions remembered; a tester repeats few


@lru_cache(MANY)
def is_reading(question: bytes) -> bool:
    """A question of one of the reading services, well formed."""
    return reads(padded(bytes((len(question),)) + question))


@lru_cache(MANY)
def things(question: bytes) -> tuple[bytes, ...]:
    """What a well-formed reading question asks for, in its order."""
    width = WIDTHS.get(Service(question[0]), 0)
    if not width:
        return (question[:1],)
    return tuple(question[:1] + question[at : at + width] for at in range(1, len(question), width))


def is_value(thing: bytes) -> bool:
    """Current data, which has an age; masks, identity, codes and freeze frames hold until they are read again."""
    by_identifier = thing[0] == Service.BY_IDENTIFIER and thing[1] == PARAMETERS
    return (thing[0] == Service.CURRENT_DATA or by_identifier) and thing[-1] not in MASKS


def split(answer: bytes, asked: Sequence[bytes]) -> Mapping[bytes, bytes]:
    """The bytes of each thing in a positive answer. asked: the things of its question, none where that is not known.

    One thing asked alone takes all there is, whatever the table thinks of its length. Several are told apart by the
    table's lengths; empty where that does not work out, or where the answer names something that was not asked.
    """
    service, data = Service(answer[0] - ANSWERED), answer[1:]
    width = WIDTHS.get(service, 0)
    alone = bytes((service,)) + data[:width]
    if len(alone) != 1 + width:
        return {}
    if len(asked) == 1:
        return {alone: data} if alone == asked[0] else {}
    found = _walked(service, width, data) if width else {alone: data}
    if not asked:
        return found or {alone: data}
    return found if set(found) <= set(asked) else {}


def _walked(service: Service, width: int, data: bytes) -> dict[bytes, bytes]:
    found: dict[bytes, bytes] = {}
    while data:
        length = _length(service, data[:width], data[width:])
        if length is None or len(data) < width + length:
            return {}
        found[bytes((service,)) + data[:width]] = data[: width + length]
        data = data[width + length :]
    return found


def _length(service: Service, named: bytes, behind: bytes) -> int | None:
    """Bytes of data behind an identifier, None where the table does not know it."""
    if service is Service.VEHICLE_INFORMATION:
        return len(behind)
    if service is Service.BY_IDENTIFIER and named[0] == INFOTYPES:
        kind = identity.INFOTYPES.get(named[-1])
        return None if kind is None else identity.extent(kind, behind)
    parameter = parameters().get(named[0] if service is Service.FREEZE_FRAME else named[-1])
    return None if parameter is None else parameter.length


def positive(service: int, parts: Sequence[bytes]) -> bytes:
    """The answer that carries these things."""
    return bytes((service + ANSWERED,)) + b"".join(parts)
