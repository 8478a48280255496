"""The loop of a coaching: the source goes on, twice a second it is looked at what it holds, and the standing moves on.
No clock, thread or terminal of its own, so that a whole relearn can be tried in seconds."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future
from dataclasses import dataclass, field
from functools import partial
from importlib import import_module
from math import inf

from relearn.bus.clock import Clock
from relearn.bus.source import Source
from relearn.coach.advise import advise, halted
from relearn.coach.idling import judge
from relearn.coach.standing import Key, Standing, by_data, by_keys
from relearn.findings.advice import Advice
from relearn.findings.answers import SettleFindings
from relearn.procedures.sheets import Sheet
from relearn.recording import Recording, live

LOOK_S = 0.5
QUIETLY = ("silent", "answering", "stopped", "back", "alone", "well", "busy")
"""Notices of a source that the advice shows by itself, or that are no news; the others are told as they are."""
JUDGE_S = 2.0  # how often the idle is judged
LATE = "scipy.optimize"
"""What the checks import when they first need it; it takes a while."""


Beside = Callable[[Callable[[], SettleFindings]], Future[SettleFindings]]


def at_once(work: Callable[[], SettleFindings]) -> Future[SettleFindings]:
    """Done before it returns."""
    made: Future[SettleFindings] = Future()
    made.set_result(work())
    return made


@dataclass
class Coaching:
    """One relearn, coached. keys: what the person has said since it was last asked. answer: what to tell them about it.
    standing: where it stands, for whoever writes down how it ended. every_s: how often is looked. beside:
    where the idle is judged, which takes too long to keep a car's answers waiting: at once, or in another thread."""

    source: Source
    clock: Clock
    sheet: Sheet
    standing: Standing
    keys: Callable[[], Iterable[Key]] = tuple
    answer: str = ""
    every_s: float = LOOK_S
    beside: Beside = at_once
    _judging: Future[SettleFindings] | None = field(default=None, init=False)
    _judged: SettleFindings | None = field(default=None, init=False)
    _asked_s: float = field(default=-inf, init=False)

    @staticmethod
    def prepare() -> None:
        """Import what would else be imported while a car is being asked, and leave a hole in its recording."""
        import_module(LATE)

    def advices(self) -> Iterator[Advice]:
        """One advice after another, until the person ends it. BusError, CaptureError as of Source.step."""
        while not self.standing.ended:
            self._go_on(self.clock.now_s() + self.every_s)
            advice = self._look()
            yield advice
            moved = by_keys(self.standing, advice, self.keys())
            self.answer = moved.answer
            self.standing = by_data(moved.standing, advice)

    def _go_on(self, until_s: float) -> None:
        while self.clock.now_s() < until_s:
            self.source.step()

    def _look(self) -> Advice:
        recording, now_s = live(self.source.capture()), self.clock.now_s()
        settled = self._idle(recording, now_s) if self.standing.stage == "idle" else None
        advice = advise(recording, now_s, self.standing, self.sheet, settled)
        notice = self.source.status().notice
        if notice is not None and notice.kind == "busy":
            return halted(advice, notice.text)
        if notice is None or notice.kind in QUIETLY:
            return advice
        return advice.model_copy(update={"notes": (*advice.notes, notice.text)})

    def _idle(self, recording: Recording, now_s: float) -> SettleFindings | None:
        """The newest judgement of the idle; a new one is begun every JUDGE_S, once the one before is there. None before
        the first, in which case the look itself judges what little there is yet."""
        if self._judging is None and now_s - self._asked_s >= JUDGE_S:
            self._judging, self._asked_s = self.beside(partial(judge, recording, self.standing, self.sheet)), now_s
        if self._judging is not None and self._judging.done():
            self._judged, self._judging = self._judging.result(), None
        return self._judged
