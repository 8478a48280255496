"""A whole relearn coached on the practice car in counted time, to plain lines, and what it leaves behind."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import replace
from io import StringIO
from pathlib import Path

from relearn.analysis.steps import steps
from relearn.bus.session import Notice, Session, Status
from relearn.coach.changes import lines
from relearn.coach.final import Ended, ended
from relearn.coach.plain import tell
from relearn.coach.run import Coaching
from relearn.findings.advice import Advice
from relearn.recording import read
from tests.bus.simulated import START_S
from tests.coach.car import IDLE, PEDAL, Person, coaching, demo_car

NEVER: Callable[[float], bool] = lambda at_s: False  # noqa: E731


def coached(
    name: str,
    relearn: str,
    path: Path,
    person: Person,
    gone: Callable[[float], bool] = NEVER,
    end_s: float = 140.0,
    every_s: float = 0.5,
) -> tuple[Person, str, Ended, Coaching]:
    made, source = coaching(name, relearn, path, gone)
    made.every_s = every_s
    out = StringIO()
    made.keys, advices = person, made.advices

    def watched() -> Iterator[Advice]:
        for advice in advices():
            person.seen.append(advice)
            yield advice
            if advice.at_s > end_s:
                return

    made.advices = watched  # type: ignore[method-assign]
    try:
        tell(made, out, stays=False)
    finally:
        source.close()
    return person, out.getvalue(), ended(read(path), made.standing, demo_car()), made


def test_a_pedal_relearn_from_getting_ready_to_done(tmp_path: Path) -> None:
    """Off at 14 s, on at 27 s, off from 31 to 44 s (the scenario); ready needs 10 s, so a person goes on before it."""
    path = tmp_path / "pedal.log"
    person, text, last, made = coached("steps-pedal-right", PEDAL, path, Person(goes_on_s=0.0), end_s=45.0)
    assert [one.stage for one in person.seen][-1] == "done" and last.outcome.value == "yes", (text, last.lines)
    assert last.outcome.value == steps(read(path), PEDAL, demo_car()).verdict
    assert made.standing.gone_on[0].reason == person.reason and any(person.reason in one for one in last.lines)
    assert "no answers for 1 s: ignition off, or the cable" in text and "No advice" not in text.split(": steps")[1]


def test_an_idle_relearn_is_followed_to_the_end(tmp_path: Path) -> None:
    """Presses, hold, lamp, release, start, revs and the settling idle of the scenario, with nothing called wrong."""
    path = tmp_path / "idle.log"
    person, text, last, made = coached("steps-idle-right", IDLE, path, Person(), end_s=136.0, every_s=1.0)
    assert not [one for one in person.seen if one.wrong]
    assert list(dict.fromkeys(one.stage for one in person.seen))[:3] == ["getting ready", "steps", "idle"]
    expected = ("4 of 5 presses counted", "pedal pressed fully 5 times", "lamp blinking", "Start the engine")
    assert all(one in text for one in expected), text
    assert len(made.standing.confirmed) == 7 and made.standing.gone_on == ()
    assert any(one.startswith("YES  steps done, in time") for one in last.lines), last.lines


def test_a_cable_that_comes_out_is_said_within_two_seconds(tmp_path: Path) -> None:
    path = tmp_path / "ready.log"
    person, text, _, _ = coached(
        "demo-ready-idle", IDLE, path, Person(watches=True), gone=lambda at_s: 30.0 <= at_s < 36.0, end_s=40.0
    )
    stopped = [one for one in person.seen if one.stopped and one.time_s > START_S + 20.0]
    assert stopped and 30.0 < stopped[0].time_s - START_S <= 32.0
    assert all(one.verdict == "cannot tell" and one.now is None for one in stopped)
    assert text.count("No advice until") == 1 and "answers come again" in text.split("No advice until")[1]


class Troubled:
    """A source of which the adapter says that it has left the bus."""

    def __init__(self, source: Session) -> None:
        self.step, self.capture, self._status = source.step, source.capture, source.status

    def status(self) -> Status:
        return replace(self._status(), notice=Notice(START_S, "bus-off", "the adapter has left the bus"))

    def close(self) -> None:
        """Closed by the test."""


def test_trouble_with_the_adapter_is_said_once(tmp_path: Path) -> None:
    made, source = coaching("demo-ready-idle", IDLE, tmp_path / "a.log")
    made.source = Troubled(source)
    first, second = itertools.islice(made.advices(), 2)
    source.close()
    assert first.notes == second.notes == ("the adapter has left the bus",)
    assert "the adapter has left the bus" in lines(None, first) and first.notes[0] not in lines(first, second)
