"""Refusals, as ISO 14229-1 and ISO 15765-4 have them: what a pretend module says to a question that it has no answer
to, and what is no answer at all but a wish for more time."""

from __future__ import annotations

from collections.abc import Collection

from relearn.bus.address import Address
from relearn.bus.speech import Service, single
from relearn.j1979.refusals import PENDING
from relearn.j1979.services import ANSWERED

REFUSED = 0x7F
SERVICE_NOT_SUPPORTED, WRONG_LENGTH, OUT_OF_RANGE = 0x11, 0x13, 0x31
BUSY = 0x21  # repeat the request later


def asks_for_time(data: bytes) -> bool:
    """A frame by which a module puts its answer off: busy, or response pending."""
    payload = single(data)
    return payload is not None and len(payload) > 2 and payload[0] == REFUSED and payload[2] in (BUSY, PENDING)


def refusal(service: int, reason: int) -> bytes:
    """A negative response."""
    return bytes((REFUSED, service, reason))


def unsupported(question: bytes, to: Address, services: Collection[int]) -> bytes | None:
    """The refusal of a question that cannot be answered; None where a module keeps silent.

    All asked at once: silence, so that only those answer that can. Asked alone: 11 for a service it does not have,
    whatever that would do, since nothing here does anything; 31 (13 for a wrong length) for an unknown identifier of
    service 22; silence for a parameter of the other services. services: those that the module has.
    """
    service = question[0]
    if to.everyone or service & ANSWERED:
        return None
    if service not in services:
        return refusal(service, SERVICE_NOT_SUPPORTED)
    if service == Service.BY_IDENTIFIER:
        whole = len(question) > 1 and len(question) % 2
        return refusal(service, OUT_OF_RANGE if whole else WRONG_LENGTH)
    return None
