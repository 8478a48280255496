"""Who is there, in counted time: identifiers of ISO 15765-4, masks of SAE J1979, the dialect of SAE J1979-2."""

from __future__ import annotations

from typing import Any

import pytest

from relearn.bus.answering import Answering
from relearn.bus.ask import Patience
from relearn.bus.survey import Survey, ask_all, code_questions, identity_questions, look
from relearn.bus.wire import Line
from tests.bus.pretend import Module
from tests.bus.simulated import CountedBus, CountedClock, Table, Trouble, good

ENGINE = frozenset({0x01, 0x04, 0x05, 0x0C, 0x0D, 0x11, 0x1F, 0x42, 0x49})
GEARBOX = frozenset({0x01, 0x05, 0x0D})
PATIENCE = Patience()


def at_car(*cars: Any, trouble: Trouble = good) -> Line:
    clock = CountedClock()
    return Line(CountedBus(clock, *(Answering(car) for car in cars), trouble=trouble), clock, lambda frame: None)


def seen(*cars: Any, trouble: Trouble = good) -> Survey:
    found = look(at_car(*cars, trouble=trouble), PATIENCE)
    assert found is not None
    return found


def test_nobody_is_there() -> None:
    assert look(at_car(), PATIENCE) is None


def test_the_masks_of_two_modules() -> None:
    found = seen(Module(GEARBOX, 0x7E9), Module(ENGINE))
    assert found.modules == (0x7E8, 0x7E9)
    assert found.supported == {0x7E8: ENGINE, 0x7E9: GEARBOX}
    assert (found.engine.identifier, found.extended, found.by_identifier) == (0x7E0, False, False)


def test_masks_by_the_usual_example() -> None:
    """BE 1F A8 13, the worked example of public descriptions of SAE J1979's masks; from memory."""
    found = seen(Table({"0100": "4100BE1FA813", "0120": "412000000000"}))
    named = {0x01, 0x03, 0x04, 0x05, 0x06, 0x07, 0x0C, 0x0D, 0x0E, 0x0F, 0x10, 0x11, 0x13, 0x15, 0x1C, 0x1F}
    assert found.supported[0x7E8] == named


def test_29_bits() -> None:
    found = seen(Module(ENGINE, 0x18DAF110, extended=True))
    assert (found.extended, found.modules, found.engine.identifier) == (True, (0x18DAF110,), 0x18DA10F1)


@pytest.mark.parametrize("extended", [False, True])
def test_the_dialect_of_j1979_2(extended: bool) -> None:
    found = seen(Module(ENGINE, 0x18DAF110 if extended else 0x7E8, extended, by_identifier=True))
    assert (found.by_identifier, found.extended) == (True, extended)
    assert found.supported[found.modules[0]] == ENGINE


def test_a_module_that_refuses_service_01_is_asked_by_identifier() -> None:
    refusing = {b"\x01\x00": 0x11}
    assert seen(Module(ENGINE, by_identifier=True, refuses=refusing)).by_identifier


@pytest.mark.parametrize(
    ("modules", "engine"),
    [
        ([(0x7E9, ENGINE), (0x7EA, ENGINE)], 0x7E1),  # the lowest
        ([(0x7E8, GEARBOX), (0x7EA, ENGINE)], 0x7E2),  # the one that has engine speed
        ([(0x7E8, GEARBOX), (0x7E9, GEARBOX)], 0x7E0),  # none has
    ],
)
def test_the_engine_module_answers_engine_speed(modules: list[tuple[int, frozenset[int]]], engine: int) -> None:
    found = seen(*(Module(supported, identifier) for identifier, supported in modules))
    assert found.engine.identifier == engine


@pytest.mark.parametrize("beyond", ["refused", "in part", "silent"])
@pytest.mark.parametrize(("takes", "together"), [(1, 1), (2, 2), (3, 3), (6, 3)])
def test_how_many_parameters_one_request_takes(takes: int, together: int, beyond: str) -> None:
    """Of three with one byte each the answer just fits into a frame."""
    assert seen(Module(ENGINE, together=takes, beyond=beyond)).together == together


def test_how_many_identifiers_one_request_takes() -> None:
    assert seen(Module(ENGINE, by_identifier=True, together=3)).together == 2
    assert seen(Module(ENGINE, by_identifier=True, together=1)).together == 1


def test_a_busy_module_is_asked_again_later() -> None:
    module = Module(ENGINE)
    module.refuses = {b"\x01\x00": 0x21}
    module.awake = lambda now_s: bool(module.asked and module.refuses.clear()) or True
    assert seen(module).modules == (0x7E8,)
    first, second = module.times("0100")[:2]
    assert second - first > 1.0


@pytest.mark.parametrize("number", range(8))
def test_a_lost_frame_costs_nobody_a_parameter(number: int) -> None:
    """Whichever frame of the modules is lost while the masks are read, 0 being the first."""
    count = iter(range(1000))
    found = seen(
        Module(ENGINE),
        Module(ENGINE - {0x49}, 0x7E9),
        trouble=lambda frame: () if frame.identifier >= 0x7E8 and next(count) == number else (0.0,),
    )
    assert found.supported == {0x7E8: ENGINE, 0x7E9: ENGINE - {0x49}}


def test_identity_and_codes_of_all_modules() -> None:
    vin = b"\x49\x02\x01" + b"1M8GDM9AXKP042788"  # 49 CFR 565's worked example
    engine = Module(ENGINE, texts={b"\x09\x02": vin, b"\x03": b"\x43\x01\x01\x13", b"\x07": b"\x47\x00"})
    gearbox = Module(GEARBOX, 0x7E9, texts={b"\x03": b"\x43\x00"})
    line = at_car(engine, gearbox)
    found = look(line, PATIENCE)
    assert found is not None
    said = [one for request in identity_questions(found) for one in ask_all(line, request, PATIENCE).answers]
    assert [(one.identifier, one.payload) for one in said] == [(0x7E8, vin)]
    monitors, *codes = (ask_all(line, request, PATIENCE) for request in code_questions(found))
    assert [one.identifier for one in monitors.answers] == [0x7E8, 0x7E9]
    assert [[one.payload.hex() for one in exchange.answers] for exchange in codes] == [
        ["43010113", "4300"],
        ["4700"],
        [],
    ]


def test_identity_by_identifier() -> None:
    vin = b"\x62\xf8\x02" + b"1M8GDM9AXKP042788"
    module = Module(ENGINE, by_identifier=True, texts={b"\x22\xf8\x02": vin})
    line = at_car(module)
    found = look(line, PATIENCE)
    assert found is not None
    said = [one for request in identity_questions(found) for one in ask_all(line, request, PATIENCE).answers]
    assert [one.payload for one in said] == [vin]
    assert [len(ask_all(line, request, PATIENCE).answers) for request in code_questions(found)] == [1]
