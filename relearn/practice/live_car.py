"""A scenario's modules on its engine, to be asked at any time: by the tester of polling.py, or as a `Car` on a bus."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from math import inf
from random import Random

from relearn.bus.address import Address
from relearn.bus.answering import Spoken
from relearn.bus.refusing import unsupported
from relearn.bus.speech import Service
from relearn.bus.things import is_reading
from relearn.capture.keep import module_name
from relearn.practice.drive import STEP_US, Moment, moments
from relearn.practice.engine import Engine, Inputs
from relearn.practice.modules import Answerer, answer, answerers
from relearn.practice.readings import readings
from relearn.practice.scenario import Event, Module, Scenario
from relearn.practice.transport import answer_of

S = 1_000_000  # microseconds in a second
SHORTEST_US, LONGEST_US = 2_000, 18_000  # of an answer, and how much longer it may take
BEHIND_PENDING_US = (60_000, 180_000)  # from "response pending" to the answer


class LiveCar:
    """The modules of one scenario on one engine; time only goes forward."""

    def __init__(self, engine: Engine, scenario: Scenario) -> None:
        self._engine, self._scenario = engine, scenario
        self._said = deque[Event]()
        self._moments = moments(engine, scenario, self._said)
        self._now = next(self._moments)
        self._switched_us = -inf  # whatever the ignition is at time zero, it has been for long
        self._sensors = Random(f"{scenario.seed} sensors")
        self.answerers = answerers(scenario)

    def at(self, time_us: int) -> Moment:
        """The car's newest moment at or before this time."""
        while self._now.time_us + STEP_US <= time_us:
            before, self._now = self._now, next(self._moments)
            if self._now.inputs.ignition != before.inputs.ignition:
                self._switched_us = self._now.time_us
        return self._now

    @property
    def inputs(self) -> Inputs:
        """What acts on the car now; from any thread."""
        return self._now.inputs

    def tell(self, event: Event) -> None:
        """Let this happen at the car's next step, whatever the event's own time; from any thread."""
        self._said.append(event)

    def says(self, request: bytes, time_us: int) -> list[tuple[Answerer, tuple[bytes, ...]]]:
        """What each module sends for a request; nothing from one that the ignition has put to sleep."""
        listening = self.listening(time_us)
        values = readings(self._engine, self._now, self._sensors) if listening else {}
        said = [(who, answer(who, request, values)) for who in listening]
        return [(who, payloads) for who, payloads in said if payloads]

    def listening(self, time_us: int) -> list[Answerer]:
        """The modules that are awake at this time."""
        moment = self.at(time_us)
        since_s = (time_us - self._switched_us) / S
        return [who for who in self.answerers if awake(who.module, moment.inputs.ignition, since_s)]


class PlayedCar:
    """A scenario as a `Car`, whoever asks it; times are seconds from its start. It refuses what its dialect of the
    services has not, and answers whole what a recording of it may have lost."""

    def __init__(self, engine: Engine, scenario: Scenario) -> None:
        self._live, self._scenario = LiveCar(engine, scenario), scenario
        self._rng = Random(f"{scenario.seed} answers")
        by_identifier = {int(Service.BY_IDENTIFIER)}
        self._services = by_identifier if scenario.dialect == "j1979-2" else {*map(int, Service)} - by_identifier
        self.duration_s = scenario.duration_s

    @property
    def happenings(self) -> tuple[tuple[float, str], ...]:
        """When the driver turns the key, in seconds from the scenario's start, and to what."""
        return tuple(
            (event.at_s, text) for event in self._scenario.events() if (text := _turned(event)) and event.at_s >= 0.0
        )

    @property
    def names(self) -> tuple[str, ...]:
        """The modules, by name."""
        return tuple(module_name(self._identifier(who)) for who in self._live.answerers)

    @property
    def vin(self) -> str | None:
        """What the first module says."""
        return self._live.answerers[0].vin

    @property
    def inputs(self) -> Inputs:
        """What acts on the car now; from any thread."""
        return self._live.inputs

    def tell(self, event: Event) -> None:
        """Let this happen at the car's next step, whatever the event's own time; from any thread."""
        self._live.tell(event)

    def go_to(self, time_s: float) -> None:
        """Let the model run up to here, so that the first question need not wait for it."""
        self._live.at(round(time_s * S))

    def says(self, payload: bytes, to: Address, now_s: float) -> Sequence[Spoken]:
        """Nothing once the scenario is over."""
        time_us = round(now_s * S)
        listening = [who for who in self._live.listening(time_us) if self._is_asked(who, to)]
        if not listening or now_s > self.duration_s:
            return ()
        answers = self._answers(payload, time_us)
        said = [one for who in listening for one in self._spoken(who, answers.get(who.module.number, ()), payload, to)]
        return sorted(said, key=lambda one: one.delay_s)

    def _answers(self, payload: bytes, time_us: int) -> dict[int, tuple[bytes, ...]]:
        """What each module has to say, by its number."""
        if not is_reading(payload) or payload[0] not in self._services:
            return {}
        return {who.module.number: said for who, said in self._live.says(payload, time_us)}

    def _spoken(self, who: Answerer, payloads: tuple[bytes, ...], question: bytes, to: Address) -> list[Spoken]:
        refused = unsupported(question, to, self._services)
        payloads = payloads or ((refused,) if refused is not None else ())
        delays_us = (latency_us(self._rng) if place == 0 else pending_us(self._rng) for place in range(len(payloads)))
        spoken, delay_us = [], 0
        for payload, more_us in zip(payloads, delays_us, strict=True):
            delay_us += more_us
            spoken.append(self._one(who, delay_us, payload))
        return spoken

    def _one(self, who: Answerer, delay_us: int, payload: bytes) -> Spoken:
        scenario = self._scenario
        return Spoken(self._identifier(who), scenario.extended, delay_us / S, payload, scenario.padding)

    def _is_asked(self, who: Answerer, to: Address) -> bool:
        return to.extended == self._scenario.extended and to.answers in (None, self._identifier(who))

    def _identifier(self, who: Answerer) -> int:
        return answer_of(who.module, self._scenario.extended)


def _turned(event: Event) -> str | None:
    """What the key is turned to, None for an event without it."""
    if event.start:
        return "engine is started"
    return {1.0: "ignition on", 0.0: "ignition off"}.get(event.set.get("ignition", -1.0))


def awake(module: Module, ignition: bool, since_s: float) -> bool:
    """Whether a module answers, this long after the ignition was switched on or off."""
    return since_s >= module.boots_s if ignition else since_s < module.stays_awake_s


def latency_us(rng: Random) -> int:
    """How long an answer takes: 2 to 20 ms, mostly short."""
    chance = rng.random()
    return SHORTEST_US + int(LONGEST_US * chance * chance * chance)


def pending_us(rng: Random) -> int:
    """How long the answer takes after "response pending"."""
    return rng.randint(*BEHIND_PENDING_US)
