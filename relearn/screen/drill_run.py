"""One person's way through a drill: it plays up to each stop, asks, tells what was right, and goes on."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from relearn.bus.clock import Clock
from relearn.drills.drill_file import Drill
from relearn.drills.questions import Question, Truth, question, truth
from relearn.drills.results import Result, result
from relearn.recording import until
from relearn.screen.feeds import FASTEST, Replay

Phase = Literal["playing", "asking", "told", "done"]
SEEN_S, PLAYED_S = 60.0, 6.0  # how much before a stop is played, and how long that takes


@dataclass
class Run:
    """Where one person is in a drill. results: one for each question answered so far."""

    drill: Drill
    person: str
    clock: Clock
    place: int = 0
    phase: Phase = "playing"
    results: list[Result] = field(default_factory=list)

    asked: Question = field(init=False)
    truth: Truth | None = field(init=False, default=None)
    feed: Replay = field(init=False)

    def __post_init__(self) -> None:
        self._begin()

    def tick(self) -> None:
        """Ask, once the stop is reached."""
        if self.phase == "playing" and not self.feed.standing().playing:
            self.phase, self._asked_s = "asking", self.clock.now_s()

    def skip(self) -> None:
        """Go to the stop without waiting for the play."""
        self.feed.go_to(self.asked.at_s)
        self.tick()

    def answer(self, given: tuple[str, ...]) -> None:
        """Take the answer and have the truth told. ChoiceError: ids that were not offered, or too many."""
        found = truth(self.drill, self.place)
        seconds = self.clock.now_s() - self._asked_s
        self.results.append(result(self.drill, self.asked, given, found, self.person, seconds))
        self.truth, self.phase = found, "told"

    def go_on(self) -> None:
        """The next stop, or the end."""
        if self.place + 1 < len(self.drill.stops):
            self.place += 1
            self._begin()
        else:
            self.phase = "done"

    def _begin(self) -> None:
        """The recording ends for this feed where the question is asked: what comes later is not there to be seen."""
        self.asked = question(self.drill, self.place)
        self.truth = None
        self._asked_s = self.clock.now_s()
        self.feed = Replay(until(self.drill.recordings[self.asked.capture], self.asked.at_s), self.clock)
        from_s = self._seen_s()
        self.feed.go_to(from_s)
        self.feed.play_at(min((self.asked.at_s - from_s) / PLAYED_S, FASTEST))
        self.feed.play()
        self.phase = "playing"

    def _seen_s(self) -> float:
        """Where the play begins: where the last stop in the same recording was, else some time before this one."""
        before = self.drill.stops[self.place - 1] if self.place else None
        if before is not None and before.capture == self.asked.capture:
            return before.at_s
        return max(0.0, self.asked.at_s - SEEN_S)
