"""How long an answer takes on this way to the car, so that one that comes late is awaited the next time.

A wireless adapter can take longer than ISO 15765-4 lets the module itself take. Measured is from a question to the
first frame of an answer that belongs to it, in time or not; where one answer can be of several questions, nothing is
measured by it.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

from relearn.bus.frame import Frame
from relearn.bus.matching import begins, told
from relearn.bus.segments import FRAME
from relearn.bus.speech import Request, single
from relearn.isotp import FIRST

LONGEST_S = 0.5  # no answer is awaited longer, however slow the adapter: two questions a second; no source
REMEMBERED_S = 1.0  # what comes later than that is nobody's answer
MEASURED = 20  # so many of the newest answers are looked at
STRAYS = 2  # so many of them may take longer than is awaited: one frame that was held back makes no slow adapter
LATE_KEPT = 256
ENOUGH = 5  # measured answers, before anything is said of the adapter


@dataclass
class _Sent:
    """A question on its way. over: nobody waits for its answer any more. answered: the modules that have answered."""

    request: Request
    time_s: float
    over: bool = False
    answered: set[int] = field(default_factory=set)

    def answered_by(self, frame: Frame) -> bool:
        to = self.request.to
        asked = frame.extended == to.extended and to.answers in (None, frame.identifier)
        return asked and frame.identifier not in self.answered and _belongs(self.request, frame)


class RoundTrips:
    """What was asked within the last second, and how long the newest answers took."""

    def __init__(self) -> None:
        self._sent: deque[_Sent] = deque()
        self._took_s: deque[float] = deque(maxlen=MEASURED)
        self._late: deque[tuple[float, Request]] = deque(maxlen=LATE_KEPT)

    @property
    def usual_s(self) -> float | None:
        """What all but STRAYS of the newest answers took at most; None before the first one."""
        longest = sorted(self._took_s, reverse=True)
        return longest[min(STRAYS, len(longest) - 1)] if longest else None

    @property
    def sure_s(self) -> float | None:
        """The same, once enough is measured to say it."""
        return self.usual_s if len(self._took_s) >= ENOUGH else None

    def wait_s(self, least_s: float, margin_s: float) -> float:
        """How long an answer is awaited: `least_s`, or what the answers take and a margin, up to LONGEST_S."""
        usual_s = self.usual_s
        return least_s if usual_s is None else max(least_s, min(usual_s + margin_s, LONGEST_S))

    def late_since(self, time_s: float) -> list[Request]:
        """The questions whose first answer came after this moment, and after its time."""
        return [request for heard_s, request in self._late if heard_s > time_s]

    def said(self, request: Request, time_s: float) -> None:
        """A question goes out; whoever waited for the one before does so no longer."""
        self.given_up()
        self._forget(time_s)
        self._sent.append(_Sent(request, time_s))

    def given_up(self) -> None:
        """Nobody waits for an answer any more."""
        for one in self._sent:
            one.over = True

    def heard(self, frame: Frame) -> None:
        """The question under way is answered before any other; of the others the oldest."""
        self._forget(frame.time_s)
        candidates = [one for one in self._sent if one.answered_by(frame)]
        if not candidates:
            return
        own = min(candidates, key=lambda one: (one.over, one.time_s))
        if len(candidates) == 1:
            self._took_s.append(frame.time_s - own.time_s)
        if own.over and not own.answered:
            self._late.append((frame.time_s, own.request))
        own.answered.add(frame.identifier)
        if not own.request.to.everyone:
            self._sent.remove(own)

    def _forget(self, now_s: float) -> None:
        while self._sent and now_s - self._sent[0].time_s > REMEMBERED_S:
            self._sent.popleft()


def _belongs(request: Request, frame: Frame) -> bool:
    """A whole answer to the question, or the beginning of one. A refusal names no parameter and tells nothing here."""
    payload = single(frame.data)
    if payload is not None:
        return bool(told(request, payload))
    return len(frame.data) == FRAME and frame.data[0] >> 4 == FIRST and begins(request, frame.data[2:])
