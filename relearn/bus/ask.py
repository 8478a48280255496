"""One question and what comes back: one request outstanding, its answers awaited as ISO 15765-4 says.

What is heard here only steers the asking. Which values exist is decided by reading the recording (isotp, j1979), so
an answer that does not fit together is simply dropped here, and one that comes late is nobody's answer: it is matched
by service and parameters, so that it can never stand for the answer to another question.

The frames of a long answer are numbered, but nothing in them says which answer they are of: one that was held back or
doubled on its way could fill a hole in the next long answer, and no reader could tell. So nothing is asked behind a
long answer until STRAGGLERS_S after its last frame.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf
from typing import NamedTuple

from relearn.bus.address import Address, is_module
from relearn.bus.frame import Frame
from relearn.bus.matching import begins, told
from relearn.bus.refusing import REFUSED
from relearn.bus.segments import FRAME
from relearn.bus.speech import GoOn, Request, single
from relearn.bus.things import things
from relearn.bus.wire import Line
from relearn.isotp import CONSECUTIVE, FIRST, N_CR_S, SINGLE
from relearn.j1979.refusals import PENDING

LONGEST_S = 30.0  # however often a module says that its answer is pending: common practice, no source
STRAGGLERS_S = 0.5  # what a gateway or adapter held back has come by then, a late question's answer too: no source


@dataclass(frozen=True)
class Patience:
    """How long an answer is awaited.

    answer_s: P2 of ISO 15765-4, until an answer begins. pending_s: P2* of ISO 15765-4, after "response pending".
    adapter_s: what an adapter and the operating system may add to either, common practice, no source.
    """

    answer_s: float = 0.050
    pending_s: float = 5.0
    adapter_s: float = 0.050

    @property
    def first_s(self) -> float:
        """Until an answer begins, as we see it through an adapter of the usual kind."""
        return self.answer_s + self.adapter_s

    def on(self, line: Line) -> float:
        """The same on a line whose answers take longer: as long as they take, up to round_trip.LONGEST_S."""
        return line.trips.wait_s(self.first_s, self.adapter_s)


@dataclass(frozen=True)
class Answer:
    """One whole payload of one module, service byte first. time_s: of its last frame."""

    identifier: int
    extended: bool
    payload: bytes
    time_s: float

    @property
    def code(self) -> int | None:
        """Why it refuses (ISO 14229-1 response code); None of an answer that is no refusal."""
        return self.payload[2] if self.payload[0] == REFUSED and len(self.payload) > 2 else None


@dataclass(frozen=True)
class Exchange:
    """One question with everything that came back, each module's first answer or refusal.

    pending: how often a module said "response pending". heard_s: when a module that was asked was last heard at all,
    answers to earlier questions included; None when it was not.
    """

    request: Request
    sent_s: float
    answers: tuple[Answer, ...]
    refusals: tuple[Answer, ...]
    pending: int
    heard_s: float | None
    ended_s: float

    @property
    def codes(self) -> frozenset[int]:
        """Why it was refused."""
        return frozenset(one.code for one in self.refusals if one.code is not None)


class _Long(NamedTuple):
    """A long answer so far. size: bytes that its first frame announced; frames: consecutive ones so far."""

    size: int
    payload: bytes
    frames: int = 0


@dataclass
class Asking:
    """A question under way. It is said when this is made, after what still waits from before has been heard."""

    line: Line
    request: Request
    patience: Patience
    _sent_s: float = field(init=False)
    _answers: dict[int, Answer] = field(default_factory=dict)
    _refusals: dict[int, Answer] = field(default_factory=dict)
    _long: dict[int, _Long] = field(default_factory=dict)
    _until_s: dict[int | None, float] = field(default_factory=dict)  # by module; None: whoever has not spoken yet
    _pending: int = 0
    _heard_s: float | None = None

    def __post_init__(self) -> None:
        drain(self.line)
        self._sent_s = self.line.say(self.request).time_s
        self._until_s[self.request.to.answers] = self._sent_s + self.patience.on(self.line)

    @property
    def pending(self) -> bool:
        """Whether a module has said "response pending"."""
        return self._pending > 0

    @property
    def sent_s(self) -> float:
        """When it was said."""
        return self._sent_s

    def go(self, until_s: float) -> Exchange | None:
        """Listen until it is over or up to `until_s`; the exchange once it is over.

        A question to one module is over with its answer or refusal, one to all of them when the time for answers is.
        """
        while not self._over():
            if (frame := self.line.hear(min(self._end_s(), until_s))) is not None:
                self._take(frame)
            if not self._over() and self.line.clock.now_s() >= until_s:
                return None
        return self._exchange()

    def _end_s(self) -> float:
        return max(self._until_s.values(), default=-inf)

    def _over(self) -> bool:
        return self.line.clock.now_s() >= self._end_s()

    def _exchange(self) -> Exchange:
        self.line.trips.given_up()
        return Exchange(
            self.request,
            self._sent_s,
            tuple(self._answers.values()),
            tuple(self._refusals.values()),
            self._pending,
            self._heard_s,
            self.line.clock.now_s(),
        )

    def _take(self, frame: Frame) -> None:
        if not _speaks(frame, self.request.to) or not frame.data:
            return
        self._heard_s = frame.time_s
        kind = frame.data[0] >> 4
        if kind == SINGLE and (payload := single(frame.data)) is not None:
            self._said(frame, payload)
        elif kind == FIRST:
            self._first(frame)
        elif kind == CONSECUTIVE and frame.identifier in self._long:
            self._next(frame, self._long.pop(frame.identifier))

    def _said(self, frame: Frame, payload: bytes) -> None:
        """A whole payload. One that answers another question changes nothing."""
        answer = Answer(frame.identifier, frame.extended, payload, frame.time_s)
        if payload[0] == REFUSED and payload[1:2] == bytes((self.request.service,)) and answer.code is not None:
            self._refused(answer, answer.code)
        elif told(self.request, payload):
            self._answers.setdefault(frame.identifier, answer)
            self._done(frame)

    def _done(self, frame: Frame) -> None:
        """Nothing more is awaited from this module but the stragglers of a long answer."""
        self._until_s.pop(frame.identifier, None)
        if frame.data[0] >> 4 == CONSECUTIVE:
            self._wait(frame.identifier, frame.time_s + STRAGGLERS_S)

    def _refused(self, answer: Answer, code: int) -> None:
        if code == PENDING:
            self._pending += 1
            self._wait(answer.identifier, answer.time_s + self.patience.pending_s + self.patience.adapter_s)
        else:
            self._refusals.setdefault(answer.identifier, answer)
            self._until_s.pop(answer.identifier, None)

    def _first(self, frame: Frame) -> None:
        """Only the beginning of an answer to this question is asked to go on: another tester may be on the bus."""
        size, begin = int.from_bytes(frame.data[:2], "big") & 0xFFF, frame.data[2:]
        if frame.identifier in self._answers:
            return
        if len(frame.data) == FRAME and size >= FRAME and begins(self.request, begin):
            self._long[frame.identifier] = _Long(size, begin)
            self.line.say(GoOn(Address.of_module(frame.identifier, frame.extended)))
            self._wait(frame.identifier, frame.time_s + N_CR_S + self.patience.adapter_s)

    def _next(self, frame: Frame, so_far: _Long) -> None:
        """The next part, or the end of an answer whose parts do not follow each other."""
        if frame.data[0] & 0xF != so_far.frames + 1 & 0xF:
            self._wait(frame.identifier, frame.time_s + STRAGGLERS_S)
            return
        payload = (so_far.payload + frame.data[1:])[: so_far.size]
        if len(payload) == so_far.size:
            self._said(frame, payload)
        else:
            self._long[frame.identifier] = _Long(so_far.size, payload, so_far.frames + 1)
            self._wait(frame.identifier, frame.time_s + N_CR_S + self.patience.adapter_s)

    def _wait(self, identifier: int, until_s: float) -> None:
        self._until_s[identifier] = min(until_s, self._sent_s + LONGEST_S)


def ask(line: Line, request: Request, patience: Patience) -> Exchange:
    """Ask and listen until the exchange is over. BusError: the adapter is gone.

    Where a module says "response pending" this takes up to `pending_s` more each time, and never more than LONGEST_S.
    """
    asking = Asking(line, request, patience)
    while (exchange := asking.go(inf)) is None:
        pass
    return exchange


def drain(line: Line) -> None:
    """Hear what waits already, so that nothing old stands before an answer."""
    while line.hear(-inf) is not None:
        pass


def listen(line: Line, until_s: float) -> frozenset[int]:
    """Ask nothing up to a moment; the modules that spoke until then."""
    spoke = set()
    while line.clock.now_s() < until_s:
        frame = line.hear(until_s)
        if frame is not None and not frame.error and is_module(frame.identifier, frame.extended):
            spoke.add(frame.identifier)
    return frozenset(spoke)


def complete(exchange: Exchange) -> bool:
    """Some module answered everything that was asked."""
    asked = set(things(exchange.request.payload))
    return any(asked <= told(exchange.request, one.payload) for one in exchange.answers)


def _speaks(frame: Frame, to: Address) -> bool:
    """A module's frame, and one of those that were asked."""
    if frame.error or frame.extended != to.extended or not is_module(frame.identifier, frame.extended):
        return False
    return to.everyone or frame.identifier == to.answers
