"""What is asked how often, and the poller's manners, in counted time."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.bus.address import Address
from relearn.bus.answering import Answering
from relearn.bus.ask import Patience
from relearn.bus.frame import Frame
from relearn.bus.pace import paces, parse
from relearn.bus.poll import FAILURES, SELDOM_S, STEP_S, TRY_AGAIN_S, Ask, Poller, plan
from relearn.bus.speech import Request, Service
from relearn.bus.survey import Survey
from relearn.bus.wire import Line
from relearn.checks.step_patterns import PEAK_S
from relearn.checks.step_window import FLEETING_S
from relearn.errors import BusError, ProcedureError
from tests.bus.pretend import Module
from tests.bus.simulated import CountedBus, CountedClock

ALL = frozenset({0x01, 0x04, 0x05, 0x0C, 0x0D, 0x0E, 0x10, 0x11, 0x42, 0x49, 0x5A})
ENGINE = Address(0x7E0)
PATIENCE = Patience()


def at_car(*cars: Any) -> Line:
    clock = CountedClock()
    return Line(CountedBus(clock, *(Answering(car) for car in cars)), clock, lambda frame: None)


def survey(supported: frozenset[int] = ALL, together: int = 3, by_identifier: bool = False) -> Survey:
    return Survey(False, by_identifier, (0x7E8,), ENGINE, {0x7E8: supported}, together)


def asked(*pids: int, every_s: float = 0.1) -> Ask:
    return Ask(Request(ENGINE, Service.CURRENT_DATA, pids), every_s)


def questions(asks: tuple[Ask, ...]) -> dict[str, float]:
    return {ask.request.payload.hex(): ask.every_s for ask in asks}


def run(poller: Poller, line: Line, seconds: float) -> int:
    """Steps for so long; how many exchanges ended."""
    end_s, count = line.clock.now_s() + seconds, 0
    while line.clock.now_s() < end_s:
        count += poller.step() is not None
    return count


# The plan


def test_what_is_asked_how_often() -> None:
    wanted = {
        "engine_speed",
        "accelerator_pedal_position_d",
        "malfunction_lamp",
        "coolant_temperature",
        "vehicle_speed",
    }
    assert questions(plan(survey(), wanted)) == {"010c49": 0.1, "0101": 0.2, "010d": 0.5, "0105": 1.0}


def test_each_alone_where_the_module_takes_one() -> None:
    assert questions(plan(survey(together=1), {"engine_speed", "accelerator_pedal_position_d"})) == {
        "010c": 0.1,
        "0149": 0.1,
    }


def test_by_identifier() -> None:
    asks = plan(survey(by_identifier=True, together=2), {"engine_speed", "vehicle_speed", "throttle_position"})
    assert questions(asks) == {"22f40c": 0.1, "22f40df411": 0.5}


def test_only_what_the_module_has_and_what_has_a_pace() -> None:
    assert plan(survey(frozenset({0x05})), {"engine_speed", "run_time"}) == ()
    assert questions(plan(survey(frozenset({0x05, 0x1F})))) == {"0105": 1.0}


def test_another_pedal_takes_the_first_one_s_place() -> None:
    relative = {"relative_accelerator_pedal_position", "accelerator_pedal_position_d"}
    assert questions(plan(survey(), relative)) == {"0149": 0.1, "015a": 0.5}
    assert questions(plan(survey(ALL - {0x49}), relative)) == {"015a": 0.1}


@given(st.frozensets(st.sampled_from(sorted(ALL))), st.integers(1, 3), st.booleans())
def test_every_answer_fits_into_one_frame(supported: frozenset[int], together: int, by_identifier: bool) -> None:
    """SAE J1979 on ISO 15765-2: service byte, then identifier and data each, 7 bytes at most; each once."""
    lengths = {0x01: 4, 0x0C: 2, 0x10: 2, 0x42: 2}
    asks = plan(survey(supported, together, by_identifier))
    pids = [pid & 0xFF for ask in asks for pid in ask.request.asks]
    assert sorted(pids) == sorted(supported)
    for ask in asks:
        assert len(ask.request.asks) <= together
        assert 1 + sum((2 if by_identifier else 1) + lengths.get(pid & 0xFF, 1) for pid in ask.request.asks) <= 7


def test_the_paces_are_fast_enough_for_the_steps() -> None:
    """Nothing that a step is judged by may hide between two samples."""
    assert paces()["accelerator_pedal_position_d"].every_s < PEAK_S
    assert paces()["malfunction_lamp"].every_s < FLEETING_S


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("pace = 1", "pace"),
        ("[[pace]]", "channel"),
        ('[[pace]]\nchannel = "engine_speed"\nevery_s = 0', "greater than 0"),
        ('[[pace]]\nchannel = "engine_sped"\nevery_s = 1', "engine_sped"),
        ('[[pace]]\nchannel = "engine_speed"\nevery_s = 1\nstands_for = "run_time"', "run_time"),
        ('[[pace]]\nchannel = "engine_speed"\nevery_s = 1\n' * 2, "twice"),
        ("[[pace", "TOML"),
    ],
)
def test_mistakes_in_the_paces(text: str, said: str) -> None:
    with pytest.raises(ProcedureError, match=said):
        parse(text, Path("pace.toml"))


# The poller


def test_a_module_that_keeps_up_is_asked_at_the_pace() -> None:
    module = Module(ALL)
    line = at_car(module)
    run(Poller(line, [asked(0x0C), asked(0x05, every_s=1.0)], PATIENCE), line, 10.0)
    assert len(module.times("010C")) == pytest.approx(100, abs=1)
    assert len(module.times("0105")) == pytest.approx(10, abs=1)


def test_one_question_is_outstanding() -> None:
    line = at_car(Module(ALL, delay_s=0.03))
    bus = line._bus
    assert isinstance(bus, CountedBus)
    run(Poller(line, [asked(pid) for pid in sorted(ALL)], PATIENCE), line, 5.0)
    between = [later.time_s - sooner.time_s for sooner, later in pairwise(bus.sent)]
    assert min(between) >= 0.03


@settings(max_examples=25, deadline=None)
@given(st.lists(st.sampled_from([0.1, 0.2, 0.5, 1.0, 2.0]), min_size=1, max_size=len(ALL)), st.floats(0.001, 0.045))
def test_nothing_starves_and_nothing_is_asked_too_often(every_s: list[float], delay_s: float) -> None:
    """However slow the module: a question waits no longer than twice its pace, or that stretched by the common measure
    (what all of them together would take of a second), and a round of the others."""
    module = Module(ALL, delay_s=delay_s)
    line = at_car(module)
    asks = [asked(pid, every_s=one) for pid, one in zip(sorted(ALL), every_s, strict=False)]
    seconds = 12.0
    run(Poller(line, asks, PATIENCE), line, seconds)
    each_s = delay_s + 0.001
    load = sum(each_s / one for one in every_s)
    for ask in asks:
        times = module.times(ask.request.payload.hex())
        longest_s = max(later - sooner for sooner, later in pairwise(times))
        assert longest_s <= 2 * max(1.0, load) * ask.every_s + len(asks) * each_s
        assert len(times) <= seconds / ask.every_s + 2
        assert min(later - sooner for sooner, later in pairwise(times)) >= ask.every_s / 2


def test_the_fast_ones_come_first_when_the_module_is_slow() -> None:
    """Asked for 10 + 20 × 1 answers a second, it gives about 24: engine speed nearly keeps its pace."""
    module = Module(ALL | frozenset(range(0x13, 0x1F)), delay_s=0.04)
    line = at_car(module)
    slow = [pid for pid in sorted(module.supported) if pid != 0x0C][:20]
    run(Poller(line, [asked(0x0C), *(asked(pid, every_s=1.0) for pid in slow)], PATIENCE), line, 20.0)
    assert len(module.times("010C")) > 170
    counts = Counter(payload for _, payload, _ in module.asked)
    assert all(9 <= counts[bytes((0x01, pid))] <= 20 for pid in slow)


def test_a_step_is_short() -> None:
    module = Module(ALL, refuses={b"\x01\x0c": 0x78})  # pending, and then nothing
    line = at_car(module)
    poller = Poller(line, [asked(0x0C)], PATIENCE)
    for _ in range(30):
        before_s = line.clock.now_s()
        poller.step()
        assert line.clock.now_s() - before_s <= STEP_S + 0.01


def test_with_nothing_to_ask_it_listens() -> None:
    line = at_car(Module(ALL))
    poller = Poller(line, [], PATIENCE)
    start_s = line.clock.now_s()
    assert poller.step() is None
    assert line.clock.now_s() == pytest.approx(start_s + STEP_S)


@pytest.mark.parametrize("beyond", ["refused", "in part", "silent"])
def test_a_group_that_the_module_does_not_take_is_taken_apart(beyond: str) -> None:
    module = Module(ALL, together=1, beyond=beyond)
    line = at_car(module)
    poller = Poller(line, [asked(0x0C, 0x49), asked(0x05, every_s=1.0)], PATIENCE)
    run(poller, line, 5.0)
    assert questions(poller.asks) == {"010c": 0.1, "0149": 0.1, "0105": 1.0}
    assert len(module.times("010C49")) <= 25  # where it is silent, it must answer something else in between
    assert len(module.times("010C")) >= 20


def test_a_lost_answer_does_not_take_a_group_apart() -> None:
    module = Module(ALL)
    module.awake = lambda now_s: len(module.asked) % 10 != 5 or now_s % 0.3 > 0.1
    line = at_car(module)
    poller = Poller(line, [asked(0x0C, 0x49)], PATIENCE)
    run(poller, line, 10.0)
    assert questions(poller.asks) == {"010c49": 0.1}


def test_what_the_module_refuses_for_itself_is_asked_seldom() -> None:
    module = Module(ALL, refuses={b"\x01\x49": 0x22})
    line = at_car(module)
    run(Poller(line, [asked(0x0C), asked(0x49)], PATIENCE), line, 30.0)
    assert len(module.times("0149")) <= FAILURES + 30 / SELDOM_S
    assert len(module.times("010C")) > 290


def test_a_busy_module_is_left_alone_for_a_second() -> None:
    module = Module(ALL, refuses={b"\x01\x05": 0x21})
    line = at_car(module)
    run(Poller(line, [asked(0x0C), asked(0x05, every_s=5.0)], PATIENCE), line, 4.0)
    refused_s = module.times("0105")[0]
    assert min(one for one in module.times("010C") if one > refused_s) - refused_s >= 1.0
    assert len(module.times("010C")) > 25


def test_a_silent_module_is_asked_one_thing_five_times_a_second_until_it_speaks() -> None:
    """An ignition cycle: off from second 5 to second 25."""
    clock_s = CountedClock().now_s()
    module = Module(ALL, awake=lambda now_s: not 5.0 <= now_s - clock_s < 25.0)
    line = at_car(module)
    bus = line._bus
    assert isinstance(bus, CountedBus)
    poller = Poller(line, [asked(0x0C, 0x49), asked(0x05, every_s=1.0)], PATIENCE)
    run(poller, line, 5.0)
    assert poller.silent_since_s is None
    run(poller, line, 2.0)
    heard_s = max(time_s for time_s, _, _ in module.asked)
    assert poller.silent_since_s == pytest.approx(heard_s, abs=0.01)
    sent = len(bus.sent)
    run(poller, line, 15.0)
    assert len(bus.sent) - sent == pytest.approx(15 / TRY_AGAIN_S, abs=2)
    assert {frame.data.hex() for frame in bus.sent[sent:]} == {"02010c0000000000"}
    run(poller, line, 6.0)
    assert poller.silent_since_s is None
    back_s = module.times("010C")[0] - clock_s
    assert 25.0 <= back_s < 25.0 + TRY_AGAIN_S + 0.2
    assert len([one for one in module.times("010C49") if one - clock_s > 25.0]) > 15
    assert questions(poller.asks) == {"010c49": 0.1, "0105": 1.0}


def test_a_group_that_is_all_there_is_and_gets_no_answer_is_taken_apart_too() -> None:
    line = at_car(Module(ALL, together=1, beyond="silent"))
    poller = Poller(line, [asked(0x0C, 0x49)], PATIENCE)
    run(poller, line, 20.0)
    assert questions(poller.asks) == {"010c": 0.1, "0149": 0.1}
    assert poller.silent_since_s is None


def test_answers_that_always_come_too_late_are_no_silence() -> None:
    """An adapter that takes 150 ms."""
    module = Module(ALL, delay_s=0.15)
    line = at_car(module)
    poller = Poller(line, [asked(0x0C), asked(0x05, every_s=1.0)], PATIENCE)
    run(poller, line, 20.0)
    assert poller.silent_since_s is None


def test_another_module_that_talks_to_another_tester_does_not_end_the_silence() -> None:
    line = at_car()
    bus = line._bus
    assert isinstance(bus, CountedBus)
    for number in range(100):
        bus.put(Frame(bus.clock.now_s() + 0.1 * number, 0x7E9, False, bytes.fromhex("03410D0000000000")))
    poller = Poller(line, [asked(0x0C)], PATIENCE)
    run(poller, line, 10.0)
    assert len(bus.sent) <= 5 + 10 / TRY_AGAIN_S + 1
    assert poller.silent_since_s is not None


def test_an_adapter_that_is_gone_ends_it() -> None:
    line = at_car(Module(ALL))
    poller = Poller(line, [asked(0x0C)], PATIENCE)

    def unplugged(*args: object, **named: object) -> None:
        raise OSError("no such device")

    line._bus.send = unplugged  # type: ignore[method-assign]
    with pytest.raises(BusError, match="no such device"):
        run(poller, line, 1.0)
