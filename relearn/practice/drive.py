"""A scenario's events played to the engine: the driver's hand and foot, and one moment after another."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import count
from random import Random
from typing import Any, NamedTuple

from relearn.practice.air import standard_pressure_pa
from relearn.practice.engine import Engine, Inputs, State, at_rest, step
from relearn.practice.fuel import Trims
from relearn.practice.scenario import Event, Scenario
from relearn.practice.thermal import Temperatures

QUIET = Inputs()
STEP_US = 10_000
STEP_S = STEP_US / 1e6
LETS_GO_RPM = 600.0  # the hand leaves the key when the engine runs
GIVES_UP_S = 5.0
FOOT_PCT_PER_RPM, FOOT_PCT_PER_RPM_S, FOOT_MOST_PCT = 0.006, 0.008, 60.0


class Moment(NamedTuple):
    """The car at one time: microseconds from the start, what acts on it, and its state."""

    time_us: int
    inputs: Inputs
    state: State


@dataclass(frozen=True, slots=True)
class Ramp:
    """One input on its way to a new value."""

    name: str
    begin: float
    end: float
    from_s: float
    over_s: float

    def value(self, time_s: float) -> float:
        """Where it is now; `end` once the time is over."""
        if self.over_s <= 0.0:
            return self.end
        return self.begin + (self.end - self.begin) * min((time_s - self.from_s) / self.over_s, 1.0)


@dataclass(frozen=True, slots=True)
class Driver:
    """What the driver is doing: starting since, holding a speed with the foot, and inputs on their way."""

    starting_from_s: float | None = None
    hold_rpm: float = 0.0
    foot_pct: float = 0.0
    ramps: tuple[Ramp, ...] = ()

    def told(self, event: Event, inputs: Inputs, time_s: float) -> Driver:
        """The driver after an event."""
        begun = tuple(Ramp(name, getattr(inputs, name), end, time_s, event.over_s) for name, end in event.set.items())
        return Driver(
            time_s if event.start else self.starting_from_s,
            self.hold_rpm if event.hold_rpm is None else event.hold_rpm,
            self.foot_pct if event.hold_rpm is None else 0.0,
            tuple(ramp for ramp in self.ramps if ramp.name not in event.set) + begun,
        )


def moments(engine: Engine, scenario: Scenario, said: deque[Event] | None = None) -> Iterator[Moment]:
    """The car every 10 ms from time zero on, without end. The same scenario gives the same moments.

    said: events from outside, put in by whoever and whenever: each happens at the next step, whatever its own time.
    """
    rng, said = Random(scenario.seed), said if said is not None else deque()
    inputs, state = _beginning(engine, scenario)
    driver, waiting = Driver(), scenario.events()
    for tick in count():
        time_s = tick * STEP_S
        while waiting and waiting[0].at_s <= time_s:
            driver = driver.told(waiting.pop(0), inputs, time_s)
        while said:
            driver = driver.told(said.popleft(), inputs, time_s)
        driver, inputs = _act(driver, inputs, state, time_s)
        yield Moment(tick * STEP_US, inputs, state)
        state = step(engine, state, inputs, rng.uniform(-1.0, 1.0), STEP_S)


def _beginning(engine: Engine, scenario: Scenario) -> tuple[Inputs, State]:
    begin = scenario.begin
    inputs = Inputs(ambient_c=begin.ambient_c, ambient_pa=standard_pressure_pa(begin.altitude_m))
    heat = Temperatures(begin.coolant_c, begin.oil_c, begin.intake_c)
    trims = Trims(0.0, begin.long_idle_pct, begin.long_cruise_pct)
    return inputs, at_rest(engine, inputs, heat, trims)


def _act(driver: Driver, inputs: Inputs, state: State, time_s: float) -> tuple[Driver, Inputs]:
    """One step of the driver; a quiet one changes nothing."""
    if driver.ramps:
        moved: dict[str, Any] = {ramp.name: _of_kind(ramp, time_s) for ramp in driver.ramps}
        inputs = replace(inputs, **moved)
        driver = replace(driver, ramps=tuple(ramp for ramp in driver.ramps if time_s < ramp.from_s + ramp.over_s))
    if driver.starting_from_s is not None:
        driver, inputs = _start(driver, inputs, state, time_s, driver.starting_from_s)
    if driver.hold_rpm:
        driver, inputs = _press(driver, inputs, state)
    return driver, inputs


def _of_kind(ramp: Ramp, time_s: float) -> bool | int | float:
    """The value as the input wants it: a bool or an int where the model has one."""
    kind: type[bool | int | float] = type(getattr(QUIET, ramp.name))
    return kind(ramp.value(time_s))


def _start(driver: Driver, inputs: Inputs, state: State, time_s: float, from_s: float) -> tuple[Driver, Inputs]:
    if state.speed_rpm < LETS_GO_RPM and time_s < from_s + GIVES_UP_S:
        return driver, replace(inputs, starter=True, fuel_cut=False)
    return replace(driver, starting_from_s=None), replace(inputs, starter=False)


def _press(driver: Driver, inputs: Inputs, state: State) -> tuple[Driver, Inputs]:
    """A foot that holds an engine speed: proportional and integral."""
    error_rpm = driver.hold_rpm - state.speed_rpm
    foot_pct = min(max(driver.foot_pct + FOOT_PCT_PER_RPM_S * error_rpm * STEP_S, 0.0), FOOT_MOST_PCT)
    pedal_pct = min(max(foot_pct + FOOT_PCT_PER_RPM * error_rpm, 0.0), FOOT_MOST_PCT)
    return replace(driver, foot_pct=foot_pct), replace(inputs, pedal_pct=pedal_pct)
