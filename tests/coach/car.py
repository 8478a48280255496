"""The practice car on a bus in counted time, a person at the keys, and recordings cut short: what these tests share."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

from relearn.analysis.wanted import wanted
from relearn.bus.address import Address
from relearn.bus.answering import Answering, Car, Spoken
from relearn.bus.ask import Patience
from relearn.bus.session import Session
from relearn.coach.advise import advise
from relearn.coach.run import Coaching
from relearn.coach.standing import Confirm, Key, Next, Standing, begin
from relearn.findings.advice import Advice
from relearn.practice.engine import load
from relearn.practice.live_car import PlayedCar
from relearn.practice.scenario import scenario
from relearn.procedures.sheets import Sheet, load_sheet, sheet_path
from relearn.recording import Recording, read, until
from tests.bus.simulated import START_S, CountedBus, CountedClock

CAPTURES = Path(__file__).parents[2] / "captures"
PEDAL, IDLE, THROTTLE = "accelerator-closed-position", "idle-air-volume", "throttle-closed-position"


@cache
def demo_car() -> Sheet:
    return load_sheet(sheet_path("demo-car"))


@cache
def whole(name: str) -> Recording:
    """A demo capture."""
    return read(CAPTURES / name)


def standing(name: str, relearn: str, stage: str | None = None, since_s: float = 0.0) -> Standing:
    """At a stage of a coaching that began with the capture; the stage since so many seconds from its beginning."""
    start_s = whole(name).start_unix_s or 0.0
    first = begin(relearn, start_s)
    chosen = next((one for one in first.stages if one == stage), first.stage)
    return replace(first, stage=chosen, since_s=start_s + since_s, began=((chosen, start_s + since_s),))


def advised(name: str, at_s: float, where: Standing, heard_until_s: float | None = None) -> Advice:
    """What is said at_s seconds into a capture, of which no more than heard_until_s was heard."""
    recording = whole(name)
    cut = until(recording, at_s if heard_until_s is None else heard_until_s)
    return advise(cut, (recording.start_unix_s or 0.0) + at_s, where, demo_car())


class BusyClock(CountedClock):
    """As on a machine, some time passes between an answer and the next question: no two frames at one microsecond."""

    def now_s(self) -> float:
        self.time_s += 2e-6
        return self.time_s


@dataclass
class Later:
    """A car whose time begins with the counted clock's. gone: whether the cable is out, by the scenario's seconds."""

    car: Car
    gone: Callable[[float], bool] = lambda at_s: False

    def says(self, payload: bytes, to: Address, now_s: float) -> Sequence[Spoken]:
        at_s = now_s - START_S
        return () if self.gone(at_s) else self.car.says(payload, to, at_s)


@dataclass
class Person:
    """Confirms all that is seen by eye, then goes on where it is a yes, or after `goes_on_s` with a reason; one who
    only watches does neither."""

    goes_on_s: float = float("inf")
    reason: str = "the rest is shown by the workshop's own meter"
    watches: bool = False
    seen: list[Advice] = field(default_factory=list)

    def __call__(self) -> Iterable[Key]:
        advice = self.seen[-1]
        if self.watches or advice.stage != "getting ready" or advice.stopped:
            return ()
        if any(one.confirmed is None for one in advice.by_eye):
            return (Confirm(),)
        if advice.verdict == "yes":
            return (Next(),)
        return (Next(self.reason),) if advice.at_s >= self.goes_on_s else ()


def coaching(
    name: str, relearn: str, path: Path, gone: Callable[[float], bool] = lambda at_s: False
) -> tuple[Coaching, Session]:
    """A scenario of the engine model, asked by a session in counted time."""
    clock = BusyClock()
    played = scenario(name)
    car = Later(PlayedCar(load(played.engine), played), gone)
    bus = CountedBus(clock, Answering(car))
    source = Session(bus, clock, path, wanted(relearn, demo_car()), Patience(), lambda notice: None)
    return Coaching(source, clock, demo_car(), begin(relearn, clock.now_s())), source
