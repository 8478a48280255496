"""When nothing may be asked: another tester at work, or a bitrate that may be wrong. Rules of ISO 15765-2 and -4."""

from __future__ import annotations

from pathlib import Path

import pytest

from relearn.bus.address import ALL_11, Address
from relearn.bus.frame import Frame
from relearn.bus.manners import ALONE_S, LISTEN_S, HeldBack, Manners
from relearn.bus.speech import GoOn, Recorded, Reply, Request, Service
from tests.bus.simulated import START_S
from tests.bus.steady import Recorded as Recording
from tests.bus.steady import stray
from tests.bus.test_wire import SPEED, line

WRITE = bytes.fromhex("1FFE3601AABBCCDD")  # first frame of a request of service 36 (ISO 14229-1: transfer data)
READ = bytes.fromhex("02010C0000000000")


def heard(*frames: Frame) -> Manners:
    manners = Manners()
    for frame in frames:
        manners.heard(frame)
    return manners


@pytest.mark.parametrize(
    ("data", "what"),
    [
        ("1FFE3601AABBCCDD", "a first frame"),
        ("21AAAAAAAAAAAAAA", "a consecutive frame"),
        ("0210020000000000", "a programming session"),
        ("023E800000000000", "tester present"),
        ("0104000000000000", "clearing codes"),
        ("0322F19000000000", "an identifier that we do not read"),
        ("", "an empty frame"),
    ],
)
def test_whatever_is_more_than_reading_holds_everything_back(data: str, what: str) -> None:
    manners = heard(stray(5.0, 0x7E0, bytes.fromhex(data)))
    assert manners.held(START_S + 5.0 + ALONE_S - 0.1) == "other-tester", what
    assert manners.held(START_S + 5.0 + ALONE_S) is None
    with pytest.raises(HeldBack):
        manners.check(START_S + 6.0)


@pytest.mark.parametrize("data", ["02010C0000000000", "0109000000000000", "0209020000000000", "3000000000000000"])
def test_reading_questions_and_flow_control_hold_nothing_back(data: str) -> None:
    manners = heard(stray(5.0, 0x7E0, bytes.fromhex(data)))
    reads = data != "0109000000000000"  # a service that needs a parameter and names none is no reading question
    assert (manners.held(START_S + 5.0) is None) == reads
    assert (manners.asked_s is not None) == reads


def test_what_modules_and_others_send_holds_nothing_back() -> None:
    assert heard(stray(1.0, 0x7E8, WRITE), stray(1.0, 0x123, WRITE)).held(START_S + 1.0) is None
    assert heard(Frame(START_S, 0x18DA10F1, True, WRITE)).held(START_S + 1.0) == "other-tester"


def test_errors_before_any_frame_hold_back_until_they_end_or_a_frame_comes() -> None:
    errors = heard(stray(0.2, error=True), stray(0.9, error=True))
    assert errors.held(START_S + 0.9 + LISTEN_S - 0.1) == "wrong-bitrate"
    assert errors.held(START_S + 0.9 + LISTEN_S) is None
    assert heard(stray(0.2, error=True), stray(0.3)).held(START_S + 0.4) is None


def test_the_door_lets_no_question_and_no_flow_control_through() -> None:
    talking, bus, _, _ = line()
    bus.put(stray(0.5, 0x7E0, WRITE))
    talking.hear(START_S + 1.0)
    for said in (SPEED, GoOn(Address(0x7E0))):
        with pytest.raises(HeldBack):
            talking.say(said)
    talking.say(Reply(0x7E8, False, bytes(8)))  # a pretend car is no tester
    talking.say(Recorded(stray(0.0)))
    assert [one.identifier for one in bus.sent] == [0x7E8, 0x123]


def writes(made: Recording, from_s: float, to_s: float) -> None:
    """Parts of a write, every 5 ms."""
    for number in range(int((to_s - from_s) / 0.005)):
        made.bus.put(stray(from_s + number * 0.005, 0x7E0, bytes((0x20 | number & 0xF,)) + b"\xaa" * 7))


def test_not_a_word_into_a_module_that_is_being_written(tmp_path: Path) -> None:
    made = Recording(tmp_path / "a.log")
    writes(made, 0.3, 20.0)
    made.go(20.0 + ALONE_S - 0.5)
    assert made.bus.sent == []
    assert made.kinds == ["other-tester"]
    assert made.session.status().notice == made.notices[0]
    made.go(20.0 + ALONE_S + 15.0)
    assert made.kinds == ["other-tester", "alone", "answering"]
    made.session.close()
    assert made.path.read_text().count(" 7E0#2") == 3940  # recorded all the same


def test_a_write_that_begins_while_it_polls(tmp_path: Path) -> None:
    made = Recording(tmp_path / "a.log")
    writes(made, 15.0, 18.0)
    made.go(60.0)
    between = [one.time_s - START_S for one in made.bus.sent if 15.0 < one.time_s - START_S < 18.0 + ALONE_S - 0.1]
    assert between == []
    assert made.kinds == ["answering", "other-tester", "alone"]
    assert sum(one.time_s > START_S + 50.0 for one in made.bus.sent) > 100
    made.session.close()


def test_a_recording_ended_meanwhile_asks_nothing_at_its_end(tmp_path: Path) -> None:
    made = Recording(tmp_path / "a.log")
    writes(made, 15.0, 18.0)
    made.go(20.0)
    said = len(made.bus.sent)
    made.session.close()
    assert len(made.bus.sent) == said
    assert made.kinds == ["answering", "other-tester"]


def test_another_tester_that_only_reads_is_told_once(tmp_path: Path) -> None:
    made = Recording(tmp_path / "a.log")
    for second in range(20):
        made.bus.put(stray(10.3 + second / 2, 0x7E0, bytes.fromhex("0201460000000000")))
    made.go(20.0)
    assert made.kinds == ["answering", "shared-bus"]
    assert sum(one.time_s > START_S + 15.0 for one in made.bus.sent) > 50


def test_errors_and_no_frame_at_the_start(tmp_path: Path) -> None:
    made = Recording(tmp_path / "a.log")
    for tenth in range(50):
        made.bus.put(stray(0.2 + tenth / 10, error=True))
    made.go(6.0)
    assert made.bus.sent == []
    assert made.kinds == ["trouble", "wrong-bitrate"]
    made.go(16.0)
    assert made.kinds[2:] == ["well", "answering"]
    assert made.bus.sent[0].time_s == pytest.approx(START_S + 5.1 + LISTEN_S, abs=0.2)


def test_it_listens_before_its_first_word(tmp_path: Path) -> None:
    made = Recording(tmp_path / "a.log")
    made.go(3.0)
    first = made.bus.sent[0]
    assert first.time_s == pytest.approx(START_S + LISTEN_S, abs=0.01)
    assert first.data == Request(ALL_11, Service.CURRENT_DATA, (0x00,)).data
