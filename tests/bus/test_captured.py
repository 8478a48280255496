"""A capture as a car. Its own questions get its own answers; what it says in between is held no longer than it may be.

Answers are literal bytes of SAE J1979 / ISO 15031-5; refusals of ISO 14229-1; who keeps silent is ISO 15765-4's.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.bus.address import ALL_11, ALL_29, Address
from relearn.bus.captured import Captured, captured
from relearn.capture import load
from relearn.errors import CaptureError
from tests.bus.captures import ASKED, CAPTURES, Turn, by_module, turns

ENGINE, TRANSMISSION = Address(0x7E0), Address(0x7E1)
READING = {0x41, 0x42, 0x43, 0x47, 0x49, 0x4A, 0x62}


@cache
def demo(name: str) -> Captured:
    return captured(load(CAPTURES / name))


def car(folder: Path, *frames: str) -> Captured:
    """A capture of frames such as '0.005 7E8 04410C0BB8'; every frame is filled up with zeros."""
    lines = [frame.split() for frame in frames]
    text = "".join(f"({1e9 + float(at):.6f}) {bus} {to}#{data:0<16}\n" for at, to, data, bus in map(_four, lines))
    path = folder / "made.log"
    path.write_text(text, encoding="ascii")
    return captured(load(path))


def _four(words: list[str]) -> tuple[str, str, str, str]:
    return words[0], words[1], words[2], words[3] if len(words) > 3 else "can0"


def said(car: Captured, question: str, time_s: float, to: Address = ALL_11) -> list[str]:
    """The payloads of all modules, in order."""
    return [one.payload.hex().upper() for one in car.says(bytes.fromhex(question), to, time_s)]


def polled(what: str, answer: str, every_s: float, times: int, start_s: float = 0.0) -> list[str]:
    """One question asked again and again, each answered 5 ms later."""
    ats = [start_s + every_s * number for number in range(times)]
    return [line for at in ats for line in (f"{at} 7DF {what}", f"{at + 0.005} 7E8 {answer}")]


SPEED = ("02010C", "04410C0BB8")  # 750 rpm
COOLANT = ("020105", "03410581")  # 89 °C
END = "1 123 00"  # a broadcast frame, so that the capture lasts a second


@pytest.mark.parametrize("name", ASKED)
def test_its_own_questions_get_its_own_answers(name: str) -> None:
    """Also where it gave none: an ignition that is off, a VIN of which a frame was lost."""
    car, asked = demo(name), turns(name)
    wrong = [turn for turn in asked if _told(car, turn) != {of: said for of, said in turn.answers.items() if said}]
    assert wrong == []
    assert sum(bool(turn.answers) for turn in asked) > 100


def _told(car: Captured, turn: Turn) -> dict[int, list[bytes]]:
    """What each module says when asked a microsecond later."""
    told = car.says(turn.payload, Address(turn.identifier, turn.identifier > 0x7FF), turn.time_s + 1e-6)
    return by_module([(one.identifier, one.payload) for one in told])


@settings(deadline=None)  # the first question of a capture reads it
@given(st.sampled_from(ASKED), st.binary(min_size=1, max_size=7), st.floats(0, 200), st.booleans())
def test_whatever_it_is_asked_it_only_reads_or_refuses(name: str, question: bytes, time_s: float, alone: bool) -> None:
    for one in demo(name).says(question, ENGINE if alone else ALL_11, time_s):
        if one.payload[0] == 0x7F:
            assert one.payload[1] == question[0]
        else:
            assert one.payload[0] in READING
            assert one.payload[0] == question[0] + 0x40


FRAMES = st.tuples(st.sampled_from(["7DF", "7E0", "7E8", "7E9"]), st.binary(min_size=1, max_size=8))


@settings(max_examples=60, deadline=None)
@given(st.lists(FRAMES, min_size=3, max_size=12), st.binary(min_size=1, max_size=7))
def test_whatever_a_capture_holds_it_can_be_asked(
    tmp_path_factory: pytest.TempPathFactory, frames: list[tuple[str, bytes]], question: bytes
) -> None:
    """Frames of chance, most of them no diagnostics at all."""
    folder = tmp_path_factory.mktemp("chance")
    lines = [f"{place / 100} {to} {data.hex()}" for place, (to, data) in enumerate(frames)]
    made = car(folder, *lines, "0.5 7DF 02010C", "0.505 7E8 04410C0BB8")
    for at_s in (0.0, 0.05, 0.5):
        assert all(one.payload[0] in {*READING, 0x7F} for one in made.says(question, ENGINE, at_s))
    assert "410C0BB8" in said(made, "010C", 0.5)


def test_answers_cut_short_are_nothing(tmp_path: Path) -> None:
    made = car(tmp_path, "0 7E8 0162", "0.1 7E8 0142", "0.2 7E8 0262F4", "0.3 7E8 017F", *polled(*SPEED, 0.1, 2, 0.4))
    assert said(made, "010C", 0.45) == ["410C0BB8"]
    assert said(made, "22F40C", 0.45, ENGINE) == ["7F2211"]


def test_several_of_which_one_alone_is_known_too(tmp_path: Path) -> None:
    made = car(tmp_path, *polled(*SPEED, 0.1, 2), "0.3 7DF 03010CE1", "0.304 7E8 05410C0FA0E1", END)
    assert said(made, "010CE1", 0.2) == ["410C0BB8"]
    assert said(made, "010CE1", 0.3) == ["410C0FA0E1"]


def test_parameters_asked_one_by_one_are_put_together(tmp_path: Path) -> None:
    made = car(tmp_path, *polled(*SPEED, 0.1, 5), *polled(*COOLANT, 0.1, 1, 0.45))
    assert said(made, "010C05", 0.451) == ["410C0BB80581"]
    assert said(made, "01050D0C", 0.451) == ["4105810C0BB8"]  # one that it has not is left out


def test_an_answer_to_several_is_taken_apart(tmp_path: Path) -> None:
    made = car(tmp_path, "0 7DF 03010C0D", "0.004 7E8 06410C0BB80D07", END)
    assert said(made, "010D", 0.1) == ["410D07"]
    assert said(made, "010D0C", 0.1) == ["410D070C0BB8"]


def test_several_that_the_table_cannot_tell_apart_are_answered_as_they_were(tmp_path: Path) -> None:
    made = car(tmp_path, "0 7DF 0301E1E2", "0.004 7E8 0541E101E202", END)  # E1, E2: no rows of the parameter table
    assert said(made, "01E1E2", 0.1) == ["41E101E202"]
    assert said(made, "01E1", 0.1) == []


def test_the_newest_at_or_before_the_moment(tmp_path: Path) -> None:
    made = car(tmp_path, "0 7DF 02010C", "0.005 7E8 04410C0BB8", "1 7DF 02010C", "1.005 7E8 04410C0FA0", "2 7DF 02010C")
    assert [said(made, "010C", at) for at in (0.0, 0.999, 1.0)] == [["410C0BB8"], ["410C0BB8"], ["410C0FA0"]]


@pytest.mark.parametrize(
    ("every_s", "times", "held_s"),
    [(0.1, 5, 2.0), (1.0, 5, 3.0), (4.0, 4, 12.0), (10.0, 3, 15.0)],
    ids=["at-least-2-s", "three-intervals", "three-of-4-s", "at-most-15-s"],
)
def test_how_long_a_value_is_held(tmp_path: Path, every_s: float, times: int, held_s: float) -> None:
    last_s = every_s * (times - 1)
    others = polled(*COOLANT, 0.5, int(2 * (last_s + 20)), 0.25)
    made = car(tmp_path, *sorted([*polled(*SPEED, every_s, times), *others], key=lambda line: float(line.split()[0])))
    assert said(made, "010C", last_s + held_s - 0.01) == ["410C0BB8"]
    assert said(made, "010C", last_s + held_s + 0.01) == []
    assert said(made, "0105", last_s + held_s + 0.01) == ["410581"]


def test_nothing_is_known_before_the_first_value(tmp_path: Path) -> None:
    made = car(tmp_path, *polled(*COOLANT, 0.1, 5), *polled(*SPEED, 0.1, 1, 0.5))
    assert said(made, "010C", 0.4) == []


def test_codes_hold_until_they_are_read_again_and_before_they_are_first_read(tmp_path: Path) -> None:
    codes = ["1 7DF 0103", "1.005 7E8 0443010113", "8 7DF 0103", "8.005 7E8 024300"]
    made = car(tmp_path, *polled(*SPEED, 0.3, 4), *codes[:2], *polled(*SPEED, 0.5, 14, 1.1), *codes[2:])
    assert [said(made, "03", at) for at in (0.2, 1.0, 7.9, 8.0)] == [["43010113"]] * 3 + [["4300"]]


def test_ignition_off_is_silence_to_everything(tmp_path: Path) -> None:
    """Asked in vain twice: silent from then on to identity too; what it said before is no longer known afterwards."""
    made = car(
        tmp_path,
        *("0 7DF 0103", "0.005 7E8 024300", *polled(*COOLANT, 0.1, 3, 0.1), *polled(*SPEED, 0.1, 3, 0.41)),
        *("0.7 7DF 02010C", "0.8 7DF 02010C", "0.9 7DF 02010C"),
        *polled(*SPEED, 0.1, 3, 1.0),
    )
    assert said(made, "03", 0.69) == ["4300"]
    assert [said(made, asked, at, ENGINE) for asked in ("03", "010C") for at in (0.7, 0.85, 0.99)] == [[]] * 6
    assert [said(made, asked, 1.0) for asked in ("03", "010C", "0105")] == [["4300"], ["410C0BB8"], []]


def test_one_answer_lost_is_no_ignition_off(tmp_path: Path) -> None:
    made = car(
        tmp_path, *polled(*COOLANT, 0.1, 3), *polled(*SPEED, 0.1, 2, 0.31), "0.5 7DF 02010C", *polled(*SPEED, 1, 2, 0.6)
    )
    assert said(made, "010C", 0.5) == []
    assert said(made, "0105", 0.5) == ["410581"]


def test_a_gap_in_which_it_spoke_to_nobody(tmp_path: Path) -> None:
    made = car(tmp_path, *polled(*SPEED, 0.1, 5), "0.6 7DF 0103", "0.605 7E8 024300", *polled(*SPEED, 0.1, 5, 60.0))
    assert [said(made, "03", at) for at in (2.59, 2.61, 59.9, 60.0)] == [["4300"], [], [], ["4300"]]


def test_after_its_end_it_is_silent(tmp_path: Path) -> None:
    made = car(tmp_path, *polled(*SPEED, 0.1, 5))
    assert said(made, "010C", 0.405) == ["410C0BB8"]
    assert said(made, "010C", 0.41) == []


def test_refusals_are_as_captured(tmp_path: Path) -> None:
    made = car(tmp_path, "0 7DF 010A", "0.005 7E8 037F0A11", *polled(*SPEED, 0.1, 3, 0.1))
    assert said(made, "0A", 0.2) == ["7F0A11"]  # though asked of all, as it was captured


@pytest.mark.parametrize(
    ("question", "answer"),
    [
        ("09020000", ["7F0911"]),
        ("0902", ["7F0911"]),
        ("03", ["7F0311"]),
        ("22F40C", ["7F2211"]),
        ("0111", []),
        ("04", ["7F0411"]),  # clears codes
        ("2E0101", ["7F2E11"]),  # writes
        ("1002", ["7F1011"]),  # programming session
        ("3E00", ["7F3E11"]),
        ("410C", []),  # an answer, no question
    ],
)
def test_what_it_has_not_is_refused_when_asked_alone(tmp_path: Path, question: str, answer: list[str]) -> None:
    made = car(tmp_path, *polled(*SPEED, 0.1, 5))
    assert said(made, question, 0.2, ENGINE) == answer
    assert said(made, question, 0.2, ALL_11) == []


def test_unknown_identifiers_of_service_22(tmp_path: Path) -> None:
    made = car(tmp_path, "0 7DF 0322F40C", "0.004 7E8 0562F40C0BB8", END)
    assert said(made, "22F411", 0.1, ENGINE) == ["7F2231"]
    assert said(made, "22F4", 0.1, ENGINE) == ["7F2213"]
    assert said(made, "22F111", 0.1, ENGINE) == ["7F2231"]
    assert said(made, "22F411", 0.1) == []
    assert said(made, "22F40CF411", 0.1, ENGINE) == ["62F40C0BB8"]


def test_each_module_answers_for_itself() -> None:
    car = demo("two-modules.log")
    assert said(car, "07", 30.0, TRANSMISSION) == ["47010741"]  # P0741 pends in the transmission module only
    assert said(car, "07", 30.0, ENGINE) == ["4700"]
    assert sorted(said(car, "07", 30.0)) == ["4700", "47010741"]
    assert said(car, "07", 30.0, ALL_29) == []
    assert car.names == ("7E8", "7E9")


def test_latencies_and_response_pending_are_the_captured_ones(tmp_path: Path) -> None:
    made = car(tmp_path, "0 7DF 020906", "0.010 7E8 037F0978", "0.130 7E8 07490601C80E4D16", *polled(*SPEED, 1, 2, 1))
    pending, number = made.says(bytes.fromhex("0906"), ALL_11, 1.5)
    assert (pending.payload.hex(), round(pending.delay_s, 6)) == ("7f0978", 0.010)
    assert (number.payload.hex(), round(number.delay_s, 6)) == ("490601c80e4d16", 0.130)
    (refused,) = made.says(b"\x03", ENGINE, 1.5)
    assert round(refused.delay_s, 6) == 0.005  # the module's usual one


def test_a_module_that_only_asks_for_patience(tmp_path: Path) -> None:
    made = car(tmp_path, "0 7DF 020906", "0.010 7E8 037F0978", *polled(*SPEED, 1, 2, 0.2))
    assert said(made, "0906", 0.0) == ["7F0978"]


def test_a_capture_without_questions(tmp_path: Path) -> None:
    made = car(tmp_path, *[f"{at} 7E8 04410C0BB8" for at in (0.0, 0.1, 0.2)])
    (speed,) = made.says(bytes.fromhex("010C"), ALL_11, 0.15)
    assert (speed.payload.hex(), speed.delay_s) == ("410c0bb8", 0.010)
    assert "7E8: no question shows how long its answers took, 10 ms are taken" in made.notes


def test_a_mask_that_nobody_asked_for_is_made_and_told(tmp_path: Path) -> None:
    """SAE J1979: 01, 03-07, 0C-11, 13, 15, 1C, 1F, 20 are BE 1F A8 13 in the standard's own example."""
    seen = [0x01, *range(0x03, 0x08), *range(0x0C, 0x12), 0x13, 0x15, 0x1C, 0x1F, 0x2F]
    made = car(
        tmp_path,
        *[line for at, pid in enumerate(seen) for line in polled(f"0201{pid:02X}", f"0641{pid:02X}00", 1, 1, at)],
    )
    assert said(made, "0100", 5.0) == ["4100BE1FA813"]
    assert said(made, "0120", 5.0) == ["412000020000"]
    assert said(made, "0140", 5.0, ENGINE) == []
    assert made.notes[0] == "7E8: nobody asked for support mask 01 00, it is made from what was seen"


def test_a_captured_mask_stays_as_it_is() -> None:
    assert said(demo("lacking-parameter.log"), "0140", 30.0) == ["41407CD00051"]
    assert demo("lacking-parameter.log").notes == ()


def test_a_second_interface_with_the_same_identifier_is_left_out(tmp_path: Path) -> None:
    frames = ["0 7DF 02010C can0", "0.005 7E8 04410C0BB8 can0", "0.1 7DF 02010C can1", "0.105 7E8 04410C0FA0 can1"]
    made = car(tmp_path, *frames)
    assert said(made, "010C", 0.1) == ["410C0BB8"]
    assert "a second 7E8, of interface 2, is left out" in made.notes


def test_the_padding_is_the_captured_one() -> None:
    assert {one.padding for one in demo("j1979-2.log").says(bytes.fromhex("22F40C"), ALL_11, 30.0)} == {0xCC}


@pytest.mark.parametrize(
    ("name", "why"), [("sagging-supply.csv", "table of values"), ("passive-broadcast.log", "answers")]
)
def test_what_cannot_answer_is_refused(name: str, why: str) -> None:
    with pytest.raises(CaptureError, match=why):
        captured(load(CAPTURES / name))
