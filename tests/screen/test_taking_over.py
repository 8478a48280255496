"""The trainer switches faults into a running scenario, in counted time: the verdicts follow, and mending undoes it."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from relearn.bus.answering import Answering
from relearn.bus.ask import Patience
from relearn.bus.clock import MachineClock
from relearn.bus.serve import Paced
from relearn.bus.session import Session
from relearn.errors import ChoiceError
from relearn.practice.engine import Inputs, load
from relearn.practice.live_car import PlayedCar
from relearn.practice.scenario import scenario
from relearn.procedures.sheets import generic
from relearn.recording import live
from relearn.screen.desk import answers
from relearn.screen.opening import Played
from relearn.screen.taking_over import Faults
from tests.bus.simulated import START_S, CountedBus, CountedClock

SCENARIO = "demo-before"  # started at 8 s, then a warm and sound idle to its end
RELEARN = "idle-air-volume"


def unheard(notice: object) -> None:
    """Nobody listens to the notices here."""


class Playing:
    """A scenario asked by a recording, both in one counted time."""

    def __init__(self, name: str, out: Path) -> None:
        chosen = scenario(name)
        self.clock = CountedClock()
        self.car = PlayedCar(load(chosen.engine), chosen)
        bus = CountedBus(self.clock, Answering(Paced(self.car, START_S)))
        self.session = Session(bus, self.clock, out, None, Patience(), unheard)
        self.faults = Faults(self.car)

    def go_on_to(self, time_s: float) -> None:
        while self.clock.now_s() < START_S + time_s:
            self.session.step()

    def said(self) -> dict[str, str]:
        """The verdict of each precondition."""
        found = answers(live(self.session.capture()), RELEARN, generic())
        return {line.id: line.verdict for line in found.panels[0].lines}


@pytest.fixture
def playing(tmp_path: Path) -> Iterator[Playing]:
    one = Playing(SCENARIO, tmp_path / "a.log")
    yield one
    one.session.close()


@pytest.mark.parametrize(
    ("fault", "row", "then"),
    [
        ("coolant-sensor-unplugged", "coolant-warm", "cannot tell"),  # −40 °C is an open circuit: SAE J1979 scaling
        ("charging-lost", "supply", "no"),
        ("fuel-cut", "engine-idling", "no"),
    ],
)
def test_a_verdict_follows_a_fault_and_its_mending(fault: str, row: str, then: str, playing: Playing) -> None:
    playing.go_on_to(35.0)
    assert playing.said()[row] == "yes"
    playing.faults.switch(fault)
    assert playing.faults.present() == {fault}
    playing.go_on_to(60.0)
    assert playing.said()[row] == then
    playing.faults.switch(fault)
    assert playing.faults.present() == set()
    playing.go_on_to(61.0)
    sound = Inputs()
    assert (playing.car.inputs.coolant_open, playing.car.inputs.fuel_cut) == (sound.coolant_open, sound.fuel_cut)


def test_two_faults_are_mended_each_alone(playing: Playing) -> None:
    playing.go_on_to(30.0)
    for fault in ("air-leak", "load-on", "air-leak"):
        playing.faults.switch(fault)
        playing.go_on_to(playing.clock.now_s() - START_S + 3.0)
    assert playing.faults.present() == {"load-on"}
    inputs = playing.car.inputs
    assert (inputs.leak_mm2, inputs.electric_load_a) == (pytest.approx(0.0), pytest.approx(12.0))


def test_after_the_end_of_a_scenario_nothing_is_switched() -> None:
    chosen = scenario(SCENARIO)
    played = Played("short", chosen.model_copy(update={"duration_s": 1.0}), MachineClock())
    try:
        assert eventually(lambda: played.faults.over)
        with pytest.raises(ChoiceError, match="the scenario is over"):
            played.faults.switch("fuel-cut")
        assert played.faults.present() == set()
    finally:
        played.stop()


def eventually(holds: Callable[[], bool]) -> bool:
    """Whether it holds within half a minute, for a machine under load."""
    return any(holds() or time.sleep(0.1) for _ in range(300))


def test_an_unknown_fault_is_refused(playing: Playing) -> None:
    with pytest.raises(ChoiceError, match="air-leak"):
        playing.faults.switch("gremlins")
    assert playing.faults.present() == set()
