"""`relearn answer`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from relearn.cli.bus_options import bus_options
from relearn.cli.pretending import empty_bus, pace_options, place, say
from relearn.cli.stopping import Stopping
from relearn.errors import ChoiceError

if TYPE_CHECKING:
    from relearn.bus.answering import Car
    from relearn.bus.wire import Interface
    from relearn.practice.scenario import Scenario

SCENARIO_SUFFIX = ".toml"
TELLS_ONLY = "It answers reading questions only; whatever else it is asked, it does nothing."


def nothing(time_s: float) -> None:
    """A capture needs no time to get anywhere."""


@dataclass(frozen=True)
class Pretended:
    """A car to be played. title: what it is made of. go_to: lets its model come as far as this; the rest as its car has
    them. All times: seconds from its start."""

    title: str
    car: Car
    names: Sequence[str]
    vin: str | None
    duration_s: float
    notes: Sequence[str]
    happenings: Sequence[tuple[float, str]]
    go_to: Callable[[float], None] = nothing


@click.command()
@click.argument("what", metavar="FILE|SCENARIO")
@bus_options
@pace_options
def answer(what: str, adapter: Interface, speed: float, from_s: float, no_car: bool) -> None:
    """Let a capture or a scenario of the engine model answer on a bus like a car.

    FILE is a capture; SCENARIO the name of a packaged scenario, or a TOML file of one. Any scan tool or program can
    then read from it. --speed hurries the car's time; its answers take as long as ever. Never use it on a bus with a
    car or a module on it. Ctrl-C ends it.
    """
    played = pretended(what)
    if from_s >= played.duration_s:
        raise ChoiceError(f"{played.title} lasts {played.duration_s:.1f} s", remedy="choose an earlier --from")
    say(introduction(played))
    for note in played.notes:
        say(f"note: {note}")
    played.go_to(from_s)
    with Stopping() as stopping, empty_bus(adapter, no_car) as line:
        from relearn.bus.answering import Answering
        from relearn.bus.serve import Cue, Cues, Paced, serve

        paced = Paced(played.car, line.clock.now_s(), from_s, speed)
        answering = Answering(paced)
        cues = Cues((Cue(paced.clock_s(at_s), f"{at_s:7.1f} s  {text}") for at_s, text in _ahead(played, from_s)), say)

        def tick(now_s: float) -> None:
            cues.tick(now_s)
            played.go_to(paced.time_s(now_s))

        say(f"answering on {place(adapter)} from {from_s:g} s on; Ctrl-C ends it")
        try:
            serve(line, answering, paced.clock_s(played.duration_s), lambda: stopping.asked, tick)
        finally:
            say(f"{_questions(answering.answered)} answered")
        say("stopped" if stopping.asked else f"{played.title} is over: the car is silent")


def pretended(what: str) -> Pretended:
    """The car that is named. CaptureError, SheetError, ChoiceError: there is none, or none that can answer."""
    from relearn.practice import scenario

    if what in scenario.names():
        return _of_scenario(scenario.scenario(what), f"scenario {what}")
    path = Path(what)
    if path.suffix.lower() == SCENARIO_SUFFIX:
        return _of_scenario(scenario.from_file(path), f"scenario {what}")
    if not path.suffix and not path.exists():
        known = ", ".join(scenario.names())
        raise ChoiceError(f"{what} is neither a capture nor a packaged scenario", remedy=f"scenarios are {known}")
    return _of_capture(path)


def introduction(played: Pretended) -> str:
    """What is played, as which modules, with which VIN."""
    who = f"module {played.names[0]}" if len(played.names) == 1 else f"modules {', '.join(played.names)}"
    vin = f"VIN {played.vin}" if played.vin else "no VIN"
    return f"{played.title}, {played.duration_s:.1f} s, as a pretend car: {who}, {vin}. {TELLS_ONLY}"


def _of_capture(path: Path) -> Pretended:
    from relearn.analysis.marks import marks
    from relearn.bus.captured import captured
    from relearn.capture import load
    from relearn.procedures.sheets import generic
    from relearn.recording import live

    capture = load(path)
    car = captured(capture)
    seen = [(one.time_s, one.text) for one in marks(live(capture), generic())]
    return Pretended(f"capture {path}", car, car.names, car.vin, car.duration_s, car.notes, seen)


def _of_scenario(scenario: Scenario, title: str) -> Pretended:
    from relearn.practice.engine import load
    from relearn.practice.live_car import PlayedCar

    if scenario.kind != "asked":
        raise ChoiceError(f"nobody is asked anything in {title}", remedy="choose another scenario")
    car = PlayedCar(load(scenario.engine), scenario)
    return Pretended(title, car, car.names, car.vin, car.duration_s, (), car.happenings, car.go_to)


def _ahead(played: Pretended, from_s: float) -> list[tuple[float, str]]:
    return [one for one in played.happenings if one[0] >= from_s]


def _questions(count: int) -> str:
    return "1 question" if count == 1 else f"{count} questions"
