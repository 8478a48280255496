"""A scenario of the engine model as a car on a bus, asked by anybody at any time."""

from __future__ import annotations

from pathlib import Path

import pytest

from relearn.bus.address import ALL_11, ALL_29, Address
from relearn.errors import SheetError
from relearn.practice.engine import load
from relearn.practice.live_car import PlayedCar
from relearn.practice.scenario import SCENARIOS, car, from_file, scenario
from tests.bus.captures import turns

ENGINE = Address(0x7E0)
VIN_ANSWER = b"\x49\x02\x01" + car().vin.encode()


def played(name: str) -> PlayedCar:
    chosen = scenario(name)
    return PlayedCar(load(chosen.engine), chosen)


def said(car: PlayedCar, question: str, time_s: float, to: Address = ALL_11) -> list[str]:
    return [one.payload.hex().upper() for one in car.says(bytes.fromhex(question), to, time_s)]


def test_it_says_what_the_scenarios_capture_says() -> None:
    """Sensors have noise; counts, masks, identity and codes have none."""
    car, asked = played("lamp-on"), turns("lamp-on.log")
    steady = [turn for turn in asked if turn.payload[0] != 0x01 or turn.payload[1] in (0x00, 0x20, 0x40, 0x60, 0x01)]
    for turn in steady:
        if turn.time_s < 2.0:
            told = car.says(turn.payload, ALL_11, turn.time_s)
            assert [one.payload for one in told] == turn.answers.get(0x7E8, [])


def test_the_engine_runs_between_two_questions() -> None:
    car = played("demo-before")  # started at 8 s
    assert said(car, "010C", 5.0) == ["410C0000"]
    (running,) = said(car, "010C", 20.0)
    assert 600 < int(running[4:], 16) / 4 < 750


def test_ignition_off_is_silence() -> None:
    car = played("steps-write-wait-right")  # off from 15 to 80 s
    answers = [bool(said(car, "0902", at_s, ENGINE)) for at_s in (10.0, 30.0, 60.0, 79.0, 90.0)]
    assert answers == [True, False, False, False, True]
    assert [at_s for at_s, text in car.happenings if "ignition" in text] == [0.0, 15.0, 80.0]


def test_after_its_end_it_is_silent() -> None:
    car = played("demo-ready-pedal")
    assert said(car, "0902", car.duration_s) == [VIN_ANSWER.hex().upper()]
    assert said(car, "0902", car.duration_s + 0.1) == []


def test_two_modules_each_for_itself() -> None:
    car = played("two-modules")
    assert car.names == ("7E8", "7E9")
    assert said(car, "07", 10.0, Address(0x7E1)) == ["47010741"]  # P0741, SAE J2012
    assert sorted(said(car, "07", 10.0)) == ["4700", "47010741"]
    assert said(car, "07", 10.0, ALL_29) == []
    assert said(car, "07", 10.0, Address(0x7E3)) == []


def test_response_pending_comes_before_a_verification_number() -> None:
    pending, number = played("demo-before").says(bytes.fromhex("0906"), ENGINE, 10.0)
    assert pending.payload.hex() == "7f0978"
    assert number.payload[:3].hex() == "490601"
    assert 0.002 <= pending.delay_s <= 0.020 < pending.delay_s + 0.060 <= number.delay_s


@pytest.mark.parametrize(
    ("name", "question", "answer"),
    [
        ("demo-before", "04", "7F0411"),
        ("demo-before", "2EF19000", "7F2E11"),
        ("demo-before", "22F40C", "7F2211"),
        ("j1979-2", "010C", "7F0111"),
        ("j1979-2", "22F4FF", "7F2231"),
        ("j1979-2", "22F1", "7F2213"),
    ],
)
def test_what_it_has_not_is_refused_when_asked_alone(name: str, question: str, answer: str) -> None:
    car = played(name)
    assert said(car, question, 10.0, ENGINE) == [answer]
    assert said(car, question, 10.0) == []


def test_29_bit_identifiers() -> None:
    car = played("warm-up-drive")
    assert {one.identifier for one in car.says(bytes.fromhex("0902"), ALL_29, 5.0)} == {0x18DAF110}
    assert said(car, "0902", 5.0) == []


def test_a_scenario_that_a_user_wrote(tmp_path: Path) -> None:
    text = (SCENARIOS / "demo-before.toml").read_text(encoding="utf-8")
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    assert from_file(path) == scenario("demo-before")
    for wrong, why in (("sead = 1\n", "sead"), ('modules = ["gearbox"]\n', "gearbox"), ("modules = []\n", "no module")):
        path.write_text(wrong + text, encoding="utf-8")
        with pytest.raises(SheetError, match=why):
            from_file(path)
