"""The loop of a coaching: the source goes on, twice a second it is looked at what it holds, and the standing moves on.
No clock, thread or terminal of its own, so that a whole relearn can be tried in seconds."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from importlib import import_module

from relearn.bus.clock import Clock
from relearn.bus.source import Source
from relearn.coach.advise import advise
from relearn.coach.standing import Key, Standing, by_data, by_keys
from relearn.findings.advice import Advice
from relearn.procedures.sheets import Sheet
from relearn.recording import live

LOOK_S = 0.5
TROUBLE = ("trouble", "bus-off", "changed")
"""Notices of a source that the values themselves do not show."""
LATE = ("scipy.optimize", "scipy.stats")
"""What the checks import when they first need it; it takes a second or two."""


@dataclass
class Coaching:
    """One relearn, coached. keys: what the person has said since it was last asked. answer: what to tell them about it.
    standing: where it stands, for whoever writes down how it ended. every_s: how often is looked."""

    source: Source
    clock: Clock
    sheet: Sheet
    standing: Standing
    keys: Callable[[], Iterable[Key]] = tuple
    answer: str = ""
    every_s: float = LOOK_S

    @staticmethod
    def prepare() -> None:
        """Import what would else be imported while a car is being asked, and leave a hole in its recording."""
        for name in LATE:
            import_module(name)

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
        advice = advise(live(self.source.capture()), self.clock.now_s(), self.standing, self.sheet)
        notice = self.source.status().notice
        if notice is None or notice.kind not in TROUBLE:
            return advice
        return advice.model_copy(update={"notes": (*advice.notes, notice.text)})
