"""Who asked what in a capture, and which answer belongs to which question."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from relearn.bus.address import Address
from relearn.bus.refusing import REFUSED
from relearn.bus.speech import Service
from relearn.bus.things import SERVICES, is_reading, split, things
from relearn.capture.assemble import MAX_11
from relearn.capture.frames import Frames
from relearn.isotp import reassemble
from relearn.j1979.refusals import PENDING
from relearn.j1979.services import ANSWERED

LATEST_S = 5.0  # P2* of ISO 15765-4: an answer later than this answers no question seen here


class Asked(NamedTuple):
    """A reading question. time_s: seconds from the capture's start."""

    time_s: float
    question: bytes
    to: Address


class Answered(NamedTuple):
    """One whole answer of one module. time_s: of its first frame. asked: its question, None where none is seen."""

    time_s: float
    module: int
    payload: bytes
    asked: Asked | None

    @property
    def service(self) -> int:
        """The service that was asked, of a refusal too; -1 where it says none."""
        if self.payload[0] == REFUSED:
            return self.payload[1] if len(self.payload) > 1 else -1
        return self.payload[0] - ANSWERED

    @property
    def pending(self) -> bool:
        """A module asking for patience."""
        return self.payload[0] == REFUSED and self.payload[2:3] == bytes((PENDING,))


@dataclass
class Conversation:
    """Questions and answers in the order they began."""

    asked: list[Asked] = field(default_factory=list)
    answered: list[Answered] = field(default_factory=list)
    _newest: dict[tuple[int, int | None], Asked] = field(default_factory=dict)

    def ask(self, time_s: float, identifier: int, question: bytes) -> None:
        """A tester's message; one that is no reading question is passed over."""
        if not is_reading(question):
            return
        asked = Asked(time_s, question, Address(identifier, identifier > MAX_11))
        self.asked.append(asked)
        self._newest[question[0], asked.to.answers] = asked

    def answer(self, time_s: float, identifier: int, payload: bytes) -> None:
        """A module's message."""
        said = Answered(time_s, identifier, payload, None)
        waiting = [self._newest.get((said.service, to)) for to in (None, identifier)]
        fitting = [one for one in waiting if one is not None and _fits(said, one)]
        self.answered.append(said._replace(asked=max(fitting, default=None, key=_asked_s)))


def converse(frames: Frames) -> Conversation:
    """The conversation on one bus. Messages that did not arrive whole are no part of it."""
    messages, talk = reassemble(frames), Conversation()
    order = np.argsort(frames.number, kind="stable")
    began_s = frames.time_s[order[np.searchsorted(frames.number[order], messages.first_frame)]]
    for row in np.argsort(began_s, kind="stable"):
        if messages.length[row]:
            turn = talk.answer if messages.answer[row] else talk.ask
            turn(float(began_s[row]), int(messages.identifier[row]), messages.bytes_at(int(row)))
    return talk


def _asked_s(asked: Asked) -> float:
    return asked.time_s


def _fits(said: Answered, asked: Asked) -> bool:
    """Whether an answer can belong to a question of its service: soon enough, same identifiers, nothing not asked."""
    if said.time_s - asked.time_s > LATEST_S or asked.to.extended != (said.module > MAX_11):
        return False
    return said.payload[0] == REFUSED or _names(said.payload, things(asked.question))


def _names(answer: bytes, asked: Sequence[bytes]) -> bool:
    """The answer begins with a thing that was asked."""
    service = Service(answer[0] - ANSWERED)
    return any(answer[1:].startswith(thing[1:]) and thing[0] == service for thing in asked)


def parts(said: Answered) -> dict[bytes, bytes]:
    """The bytes of each thing in a positive answer, by thing; those of the whole question where it cannot be split."""
    if said.service not in SERVICES:
        return {}
    asked = things(said.asked.question) if said.asked is not None else ()
    found = dict(split(said.payload, asked))
    return found or ({said.asked.question: said.payload[1:]} if said.asked is not None else {})
