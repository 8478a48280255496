"""One person's way through a drill: it plays up to each stop, asks all that is asked there, and then tells what was
right. Nothing is told before the last question of a stop is answered: why a car is not ready would say what is missing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from relearn.analysis.common import engine_module, view
from relearn.bus.clock import Clock
from relearn.checks.view import View
from relearn.drills.drill_file import Drill
from relearn.drills.questions import Question, Truth, question, together, truth
from relearn.drills.results import Result, result
from relearn.errors import ChoiceError
from relearn.recording import until
from relearn.screen.feeds import FASTEST, Replay

Phase = Literal["playing", "asking", "told", "done"]
SEEN_S, PLAYED_S = 60.0, 6.0  # how much before a stop is played, and how long that takes


@dataclass(frozen=True)
class Told:
    """A question with the ids that were chosen, what they were worth, and what is right."""

    question: Question
    given: tuple[str, ...]
    result: Result
    truth: Truth


@dataclass
class Run:
    """Where one person is in a drill. results: one for each question answered so far. place: of the question that is
    asked or told. feed, seen: the recording up to the stop, as it plays and as it is judged."""

    drill: Drill
    person: str
    clock: Clock
    place: int = 0
    phase: Phase = "playing"
    results: list[Result] = field(default_factory=list)

    feed: Replay = field(init=False)
    seen: View = field(init=False)

    def __post_init__(self) -> None:
        self._stops = together(self.drill)
        self._told: dict[int, Told] = {}
        self._asked: dict[int, Question] = {}
        self._play()

    @property
    def asked(self) -> Question:
        """The question at this place."""
        if self.place not in self._asked:
            self._asked[self.place] = question(self.drill, self.place)
        return self._asked[self.place]

    @property
    def told(self) -> Told | None:
        """What was right at this place, once it may be known."""
        return self._told[self.place] if self.phase == "told" else None

    def tick(self) -> None:
        """Ask, once the stop is reached."""
        if self.phase == "playing" and not self.feed.standing().playing:
            self._ask()

    def skip(self) -> None:
        """Go to the stop without waiting for the play."""
        if self.phase == "playing":
            self.feed.go_to(self.drill.stops[self.place].at_s)
            self.tick()

    @property
    def recording_name(self) -> str:
        """What the recording is called, once nothing more is asked about it: names tell much. '' before."""
        name, behind = self.drill.stops[self.place].capture, self.drill.stops[self._here()[-1] + 1 :]
        more = self.phase != "told" or any(stop.capture == name for stop in behind)
        return "" if more else name

    def answer(self, place: int, given: tuple[str, ...]) -> None:
        """Take the answer to the question at this place; the next question of this stop follows, or what was right at
        all of them.

        ChoiceError: ids that were not offered, or too many; another question than is asked, as a page shows that was
        left open elsewhere.
        """
        if self.phase != "asking" or place != self.place:
            raise ChoiceError("this question is answered already", remedy="go on with the one that is asked now")
        found = truth(self.drill, self.place)
        seconds = self.clock.now_s() - self._asked_s
        scored = result(self.drill, self.asked, given, found, self.person, seconds)
        self.results.append(scored)
        self._told[self.place] = Told(self.asked, given, scored, found)
        here = self._here()
        if self.place != here[-1]:
            self.place += 1
            self._ask()
        else:
            self.place, self.phase = here[0], "told"

    def go_on(self) -> None:
        """What was right at the next question of this stop; behind the last, the next stop, or the end."""
        last = self.place == self._here()[-1]
        if self.place + 1 == len(self.drill.stops):
            self.phase = "done"
            return
        self.place += 1
        if last:
            self._play()

    def _here(self) -> tuple[int, ...]:
        """The places of the questions of this stop."""
        return next(places for places in self._stops if self.place in places)

    def _ask(self) -> None:
        self.phase, self._asked_s = "asking", self.clock.now_s()

    def _play(self) -> None:
        """The recording ends for this feed where the question is asked: what comes later is not there to be seen."""
        stop = self.drill.stops[self.place]
        recording = until(self.drill.recordings[stop.capture], stop.at_s)
        self.feed = Replay(recording, self.clock)
        self.seen = view(recording, engine_module(recording, None))
        from_s = self._seen_s()
        self.feed.go_to(from_s)
        self.feed.play_at(min((stop.at_s - from_s) / PLAYED_S, FASTEST))
        self.feed.play()
        self.phase = "playing"

    def _seen_s(self) -> float:
        """Where the play begins: where the last stop in the same recording was, else some time before this one."""
        before, stop = self.drill.stops[self.place - 1] if self.place else None, self.drill.stops[self.place]
        if before is not None and before.capture == stop.capture:
            return before.at_s
        return max(0.0, stop.at_s - SEEN_S)
