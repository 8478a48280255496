"""A bus that drops, delays (up to 200 ms), doubles and reorders 5 % of the frames each way never makes a wrong value.

Every answer of the pretend car says which parameter it is of and which question it answers, so that a value put
together from two answers, or taken for another parameter's, is no value that the car ever said.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from hashlib import blake2s
from itertools import count
from pathlib import Path
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.bus.answering import Answering
from relearn.bus.ask import Patience
from relearn.bus.frame import Frame
from relearn.bus.poll import Poller, plan
from relearn.bus.survey import Survey, ask_all, code_questions, identity_questions, look
from relearn.bus.window import Window
from relearn.bus.wire import Line
from relearn.isotp import reassemble
from relearn.j1979.decode import decode_rows
from relearn.j1979.table import parameters
from relearn.recording import Recording, live
from tests.bus.pretend import Module
from tests.bus.simulated import CountedBus, CountedClock

SUPPORTED = frozenset({0x01, 0x04, 0x05, 0x06, 0x07, 0x0B, 0x0C, 0x0D, 0x0E, 0x0F, 0x10, 0x11, 0x42, 0x43, 0x49, 0x5A})
LATE_S = 1.0  # each way 200 ms, and as much again for an answer to a doubled question: nothing told is older
SHARE = 0.05
PATIENCE = Patience()


def bad(seed: int, share: float = SHARE) -> Callable[[Frame], Sequence[float]]:
    """Something happens to this share of the frames: lost, late, twice (the second one late), or behind the next."""
    rng = Random(seed)

    def trouble(frame: Frame) -> Sequence[float]:
        if rng.random() >= share:
            return (0.0,)
        late_s = rng.uniform(0.0, 0.2)
        return rng.choice([(), (late_s,), (0.0, late_s), (rng.uniform(0.0003, 0.001),)])

    return trouble


@dataclass
class Journal:
    """What the car said: bytes of each parameter that are never said twice, as far as they can differ."""

    said: dict[int, list[tuple[float, bytes]]] = field(default_factory=lambda: defaultdict(list))
    _moment: count[int] = field(default_factory=count)

    def data(self, pid: int, now_s: float) -> bytes:
        mark = blake2s(f"{pid} {next(self._moment)}".encode()).digest()[: parameters()[pid].length]
        self.said[pid].append((now_s, mark))
        return mark


def long_text(question: str, number: int, letter: bytes) -> tuple[bytes, bytes]:
    """A question and its long answer, all of whose bytes are one letter's: no part of another answer fits in."""
    asked = bytes.fromhex(question)
    return asked, bytes((asked[0] + 0x40,)) + asked[1:] + bytes((number,)) + letter * {2: 17, 4: 32, 6: 8, 10: 20}[
        asked[-1]
    ]


@dataclass
class Taken:
    """One recording over a bad bus, and what the car had said."""

    recording: Recording
    window: Window
    journal: Journal
    modules: list[Module]
    survey: Survey
    start_s: float
    answered: float


def record(seed: int, seconds: float, by_identifier: bool = False, share: float = SHARE) -> Taken:
    """Look, read identity and codes, poll for so long, read them once more."""
    journal, clock, window = Journal(), CountedClock(), Window()
    modules = [module(journal, by_identifier), Module({0x05}, 0x7E9, by_identifier=by_identifier)]
    bus = CountedBus(clock, *(Answering(one) for one in modules), trouble=bad(seed, share))
    line = Line(bus, clock, window.witness)
    found = None
    while found is None:
        found = look(line, PATIENCE)
    around = (*identity_questions(found), *code_questions(found))
    for request in around:
        ask_all(line, request, PATIENCE)
    poller, end_s = Poller(line, plan(found), PATIENCE), clock.now_s() + seconds
    exchanges = []
    while clock.now_s() < end_s:
        exchanges.append(poller.step())
    for request in around:
        ask_all(line, request, PATIENCE)
    asked = [one for one in exchanges if one is not None]
    bus.shutdown()
    capture = window.capture(Path("live.log"), clock.now_s())
    answered = sum(bool(one.answers) for one in asked) / len(asked)
    return Taken(live(capture), window, journal, modules, found, capture.start_unix_s or 0.0, answered)


def module(journal: Journal, by_identifier: bool) -> Module:
    if by_identifier:
        texts = [long_text(f"22F8{one:02X}", 1, bytes((0x41 + one,))) for one in (2, 4, 6, 10)]
        texts = [(asked, said[:3] + said[4:]) for asked, said in texts]  # SAE J1979-2 has no count in front
    else:
        texts = [long_text(f"09{one:02X}", {4: 2, 6: 2}.get(one, 1), bytes((0x41 + one,))) for one in (2, 4, 6, 10)]
        codes = {asked: bytes((asked[0] + 0x40, 5)) + asked * 10 for asked in (b"\x03", b"\x07", b"\x0a")}
        texts += list(codes.items())
    return Module(SUPPORTED, by_identifier=by_identifier, data=journal.data, texts=dict(texts))


def wrong_values(taken: Taken) -> list[str]:
    """Samples of the engine module that it did not say for that channel, or not within LATE_S before."""
    found, samples = [], taken.recording.samples
    for pid, said in taken.journal.said.items():
        times = np.array([time_s for time_s, _ in said])
        data = np.array([list(mark) for _, mark in said], np.uint8)
        for signal, value, carried in decode_rows(parameters()[pid], data):
            rows = samples[(samples["channel"] == signal.name) & (samples["module"] == "7E8")]
            for time_s, told in zip(rows["time_s"], rows["value"], strict=True):
                at_s = taken.start_s + time_s
                near = carried & (times <= at_s + 1e-3) & (times >= at_s - LATE_S)
                if not (np.isclose(value, told) & near).any():
                    found.append(f"{signal.name} {told} at {time_s:.3f} s")
    return found


def strange_messages(taken: Taken) -> list[str]:
    """Whole messages of modules that are not exactly what a module says."""
    frames = taken.window.capture(Path("live.log"), 0.0).frames
    assert frames is not None
    messages = reassemble(frames)
    fixed = {said for one in taken.modules for said in one.texts.values()}
    payloads = [messages.bytes_at(int(row)) for row in np.flatnonzero(messages.answer)]
    return [one.hex() for one in payloads if len(one) > 7 and one not in fixed]


def check(taken: Taken) -> None:
    assert wrong_values(taken) == []
    assert strange_messages(taken) == []
    texts = {one.item: set(one.values) for one in taken.recording.identity}
    assert all(len(values) == 1 for values in texts.values())
    assert all(
        set(one.codes) <= {"P0303", "P0707", "P0A0A"} and len(set(one.codes)) == 1 for one in taken.recording.codes
    )


@pytest.mark.parametrize("seed", range(4))
def test_no_wrong_value(seed: int) -> None:
    taken = record(seed, 45.0)
    check(taken)
    assert taken.answered > 0.8
    assert set(taken.recording.samples["channel"]) >= {"engine_speed", "coolant_temperature", "malfunction_lamp"}
    assert len(taken.recording.samples) > 2000


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 2**32), st.booleans(), st.sampled_from([0.05, 0.3]))
def test_no_wrong_value_whatever_happens(seed: int, by_identifier: bool, share: float) -> None:
    """Far worse buses too."""
    check(record(seed, 8.0, by_identifier, share))
