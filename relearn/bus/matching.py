"""Which question an answer belongs to: by its service and by what it names, since nothing else in it tells."""

from __future__ import annotations

from relearn.bus.speech import Request
from relearn.bus.things import split, things
from relearn.j1979.services import ANSWERED


def told(request: Request, payload: bytes) -> frozenset[bytes]:
    """What of that which was asked (`things`) a payload answers; empty where it answers another question."""
    if payload[:1] != bytes((request.service + ANSWERED,)):
        return frozenset()
    return frozenset(split(payload, things(request.payload)))


def begins(request: Request, begin: bytes) -> bool:
    """Whether a long answer that begins so can be one to this question."""
    first = bytes((request.service + ANSWERED,))
    return begin[:1] == first and any(begin[1:].startswith(one[1:]) for one in things(request.payload))
