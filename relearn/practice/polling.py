"""A tester on the bus: a survey of who answers and who they are, then polling, then identity and codes once more."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from heapq import heapify, heappop, heappush
from random import Random
from typing import NamedTuple

from relearn.bus.segments import flow_control, segments
from relearn.practice.engine import Engine
from relearn.practice.live_car import LiveCar, S, latency_us, pending_us
from relearn.practice.modules import INFOTYPES, MASK_BASES, Answerer
from relearn.practice.scenario import Ask, Scenario, polls
from relearn.practice.transport import Sent, answer_of, functional, request_to

SILENCE_US = 50_000  # how long a tester waits for an answer (P2 of ISO 15765-4)
CUT_SHORT_US = 1_000_000  # how long it waits for a consecutive frame (N_Cr of ISO 15765-2)
CODES = (b"\x03", b"\x07", b"\x0a")
FROZEN = (0x02, 0x04, 0x05, 0x0C, 0x0D)


class Due(NamedTuple):
    """A request to come: when next, how often, and until when. The longest overdue sorts first."""

    time_us: int
    order: int
    request: bytes
    every_us: int
    until_us: int


def record(engine: Engine, scenario: Scenario) -> list[Sent]:
    """All frames of a capture in time order, the same on every run."""
    tester = Tester(LiveCar(engine, scenario), scenario)
    end_us = round(scenario.duration_s * S)
    now_us = tester.ask_all(survey(scenario), 0)
    last = [*identity(scenario), *codes(scenario)]
    now_us = tester.poll(_due(scenario, now_us), now_us, end_us - 40_000 * len(last) * len(scenario.modules))
    tester.ask_all(last, now_us)
    return sorted(tester.sent)


class Tester:
    """Sends requests one after another and notes every frame on the bus."""

    def __init__(self, car: LiveCar, scenario: Scenario) -> None:
        self._car, self._scenario = car, scenario
        self._rng = Random(f"{scenario.seed} tester")
        self.sent: list[Sent] = []

    def ask_all(self, requests: Iterable[bytes], now_us: int) -> int:
        """Ask each in turn; the time after the last answer."""
        for request in requests:
            now_us = self.ask(request, now_us)
        return now_us

    def poll(self, due: list[Due], now_us: int, end_us: int) -> int:
        """Ask whatever is due, the longest overdue first, until `end_us`."""
        heapify(due)
        while due:
            turn = heappop(due)
            now_us = max(now_us, turn.time_us)
            if now_us >= end_us:
                break
            if now_us < turn.until_us:
                heappush(due, turn._replace(time_us=max(turn.time_us + turn.every_us, now_us)))
                now_us = self.ask(turn.request, now_us)
        return now_us

    def ask(self, request: bytes, now_us: int) -> int:
        """Send a request and take down the answers; the time at which the next request can go out."""
        scenario = self._scenario
        self._note(now_us, functional(scenario.extended), segments(request, scenario.padding)[0])
        said = self._car.says(request, now_us)
        if not said:
            return now_us + SILENCE_US
        ends = [self._answers(who, request, payloads, now_us) for who, payloads in said]
        return max(ends) + self._rng.randint(400, 2500)

    def _answers(self, who: Answerer, request: bytes, payloads: tuple[bytes, ...], now_us: int) -> int:
        for place, payload in enumerate(payloads):
            now_us += latency_us(self._rng) if place == 0 else pending_us(self._rng)
            now_us = self._answer(who, request, payload, now_us)
        return now_us

    def _answer(self, who: Answerer, request: bytes, payload: bytes, now_us: int) -> int:
        """One payload on the bus, with the tester's flow control behind a first frame."""
        scenario, module = self._scenario, who.module
        first, *rest = segments(payload, scenario.padding)
        self._note(now_us, answer_of(module, scenario.extended), first)
        if not rest:
            return now_us
        now_us += self._rng.randint(250, 900)
        self._note(now_us, request_to(module, scenario.extended), flow_control(scenario.padding))
        lost = self._lost(request)
        for number, part in enumerate(rest, start=1):
            now_us += self._rng.randint(280, 1300)
            if number not in lost:
                self._note(now_us, answer_of(module, scenario.extended), part)
        return now_us + CUT_SHORT_US if lost else now_us

    def _lost(self, request: bytes) -> set[int]:
        return {
            lost.consecutive
            for lost in self._scenario.lost
            if request[0] == lost.service and request[-1] == lost.identifier
        }

    def _note(self, time_us: int, identifier: int, data: bytes) -> None:
        self.sent.append(Sent(time_us, identifier, self._scenario.extended, data))


def survey(scenario: Scenario) -> Iterator[bytes]:
    """First of all: what is supported, who it is, which codes there are."""
    yield from (parameter_request(scenario, (base,)) for base in MASK_BASES)
    yield from identity(scenario)
    yield from codes(scenario)
    if any(stored.stored for stored in scenario.codes.values()):
        yield from (bytes((0x02, pid, 0x00)) for pid in FROZEN)


def identity(scenario: Scenario) -> Iterator[bytes]:
    """VIN, calibration identifications, verification numbers and names."""
    if scenario.dialect == "j1979-2":
        yield from (bytes((0x22, 0xF8, infotype)) for infotype in INFOTYPES)
    else:
        yield from (bytes((0x09, infotype)) for infotype in (0x00, *INFOTYPES))


def codes(scenario: Scenario) -> Iterable[bytes]:
    """Stored, pending and permanent codes; SAE J1979-2 has another service for them, which nobody asks here."""
    return () if scenario.dialect == "j1979-2" else CODES


def parameter_request(scenario: Scenario, pids: Iterable[int]) -> bytes:
    """A request for current data in the scenario's dialect."""
    if scenario.dialect == "j1979-2":
        return b"\x22" + b"".join(bytes((0xF4, pid)) for pid in pids)
    return b"\x01" + bytes(pids)


def _due(scenario: Scenario, now_us: int) -> list[Due]:
    stops = {int(pid, 16): seconds for pid, seconds in scenario.stop_polling_s.items()}
    asked = [_wanted(scenario, ask) for ask in polls()[scenario.poll]]
    return [
        Due(
            now_us + 1000 * order,
            order,
            parameter_request(scenario, ask.ask),
            round(ask.every_s * S),
            _until_us(ask, stops, scenario.duration_s),
        )
        for order, ask in enumerate(asked)
        if ask.ask
    ]


def _wanted(scenario: Scenario, ask: Ask) -> Ask:
    """Without what is never polled, and what the masks say nobody has."""
    left_out = {*scenario.never_poll, *scenario.lacks}
    return ask.model_copy(update={"ask": tuple(pid for pid in ask.ask if pid not in left_out)})


def _until_us(ask: Ask, stops: Mapping[int, float], duration_s: float) -> int:
    return round(min([stops[pid] for pid in ask.ask if pid in stops], default=duration_s) * S)
