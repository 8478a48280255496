"""A capture that answers as a car, recorded again by our own asking: the same verdicts as of the capture itself.

How each capture must be judged stands in captures/expected.toml, by how it was made. Counted time.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from relearn.analysis.wanted import wanted
from relearn.bus.answering import Answering, Car
from relearn.bus.ask import Patience
from relearn.bus.captured import captured
from relearn.bus.serve import Paced
from relearn.bus.session import Session
from relearn.capture import load
from relearn.practice.engine import load as load_engine
from relearn.practice.live_car import PlayedCar
from relearn.practice.scenario import scenario
from relearn.procedures.sheets import generic
from tests.bus.simulated import CountedBus, CountedClock
from tests.cli.run import CAPTURES, VERDICTS, relearn

QUESTIONS = ("ready", "settle", "steps", "air")
ASKED_BADLY = frozenset({"lacking-parameter.log", "stale.log", "steps-pedal-straddle.log"})
"""Not to be told because of how their tester asked; whoever asks the same car better can tell. A car played from such a
capture must choose a moment where the capture only has an interval."""
ENDING_S = 4.0  # names and codes are asked for at the end, while the car still answers


def cases() -> list[dict[str, Any]]:
    expected = tomllib.loads((CAPTURES / "expected.toml").read_text(encoding="utf-8"))["expected"]
    asked = [one for one in expected if one["command"] in QUESTIONS and "--dbc" not in one["options"]]
    return [one for one in asked if one["files"][0] not in ASKED_BADLY]


def again(car: Car, duration_s: float, path: Path, options: list[str]) -> None:
    """Record a pretend car from its beginning to just before its end, as `record --for` asks it."""
    clock = CountedClock()
    bus = CountedBus(clock, Answering(Paced(car, clock.now_s())))
    asked = options[options.index("--for") + 1] if "--for" in options else None
    session = Session(bus, clock, path, wanted(asked, generic()), Patience(), lambda notice: None)
    end_s = clock.now_s() + duration_s - ENDING_S
    while clock.now_s() < end_s:
        session.step()
    session.close()


def verdict(case: dict[str, Any], path: Path) -> str:
    return VERDICTS[relearn(case["command"], path, *case["options"]).code]


named = pytest.mark.parametrize("case", cases(), ids=lambda one: f"{one['command']}-{one['files'][0]}-{one['verdict']}")


@named
def test_a_capture_recorded_again(case: dict[str, Any], tmp_path: Path) -> None:
    """A capture knows its values only at the moments at which they were read: where steps are timed by them, reading it
    again a tenth of a second later may leave open what the capture itself shows, but never turns it round."""
    car, path = captured(load(CAPTURES / case["files"][0])), tmp_path / "again.log"
    again(car, car.duration_s, path, case["options"])
    same = {case["verdict"], "cannot tell"} if case["command"] == "steps" else {case["verdict"]}
    assert verdict(case, path) in same


@named
def test_the_scenario_behind_a_capture_recorded_live(case: dict[str, Any], tmp_path: Path) -> None:
    made = scenario(Path(case["files"][0]).stem)
    path = tmp_path / "live.log"
    again(PlayedCar(load_engine(made.engine), made), made.duration_s, path, case["options"])
    assert verdict(case, path) == case["verdict"]
