"""A slow adapter, in counted time: each frame takes as long each way. An answer that comes late is one all the same."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from relearn.bus.address import ALL_11, Address
from relearn.bus.round_trip import LONGEST_S, RoundTrips
from relearn.bus.speech import Request, Service
from relearn.recording import read
from tests.bus.simulated import START_S
from tests.bus.steady import VIN, Recorded, stray

SPEED, COOLANT = (Request(Address(0x7E0), Service.CURRENT_DATA, (pid,)) for pid in (0x0C, 0x05))
SPEED_IS, COOLANT_IS = bytes.fromhex("04410C0BB8000000"), bytes.fromhex("0341057000000000")


def slow(path: Path, each_way_s: float) -> Recorded:
    return Recorded(path, trouble=lambda frame: (each_way_s,))


@pytest.mark.parametrize("each_way_s", [0.060, 0.150])
def test_a_slow_adapter_costs_pace_and_nothing_else(tmp_path: Path, each_way_s: float) -> None:
    made = slow(tmp_path / "a.log", each_way_s)
    made.go(60.0)
    status = made.session.status()
    assert status.answered_share is not None and status.answered_share > 0.95
    assert status.rate_hz == pytest.approx(1 / (2 * each_way_s + 0.0055), rel=0.15)
    made.session.close()
    assert made.kinds[0] == "answering"
    assert made.kinds.count("slow") == 1 and set(made.kinds) == {"answering", "slow"}
    told = next(one.text for one in made.notices if one.kind == "slow")
    assert f"{2 * each_way_s + 0.0055:.2f} s" in told
    recording = read(made.path)
    assert [one.values for one in recording.identity if one.item == "vin"] == [(VIN.decode(),)] * 2
    late = recording.samples[recording.samples["time_s"].between(25.0, 57.0)]  # while it polls
    longest_s = {name: times.diff().max() for name, times in late.groupby("channel")["time_s"]}
    assert longest_s["engine_speed"] < 1.5 and longest_s["coolant_temperature"] < 12.0  # all by one common measure
    assert recording.faults == ()


def test_a_quick_adapter_is_not_called_slow(tmp_path: Path) -> None:
    made = slow(tmp_path / "a.log", 0.02)
    made.go(20.0)
    assert made.kinds == ["answering"]


def test_one_question_is_outstanding_on_a_slow_adapter_too(tmp_path: Path) -> None:
    made = slow(tmp_path / "a.log", 0.150)
    made.go(40.0)
    said = [one.time_s for one in made.bus.sent if one.time_s > START_S + 25.0]
    assert min(later - sooner for sooner, later in pairwise(said)) >= 0.3


def test_the_wait_follows_the_answers_up_to_a_bound() -> None:
    trips = RoundTrips()
    assert trips.wait_s(0.1, 0.05) == 0.1
    for number, took_s in enumerate([0.2, 0.2, 0.2, 0.2]):
        trips.said(SPEED, START_S + number)
        trips.heard(stray(number + took_s, 0x7E8, SPEED_IS))
    assert trips.wait_s(0.1, 0.05) == pytest.approx(0.25, abs=1e-5)
    for number in range(10, 30):
        trips.said(SPEED, START_S + number)
        trips.heard(stray(number + 0.9, 0x7E8, SPEED_IS))
    assert trips.wait_s(0.1, 0.05) == LONGEST_S
    assert trips.wait_s(0.7, 0.05) == 0.7  # whoever wants to wait longer does


def test_two_held_back_frames_in_twenty_make_no_slow_adapter() -> None:
    trips = RoundTrips()
    for number in range(20):
        trips.said(SPEED, START_S + number)
        trips.heard(stray(number + (0.4 if number in (5, 11) else 0.01), 0x7E8, SPEED_IS))
    assert trips.wait_s(0.1, 0.05) == 0.1


def test_a_late_answer_is_matched_by_what_it_names() -> None:
    trips = RoundTrips()
    trips.said(SPEED, START_S)
    trips.said(COOLANT, START_S + 0.1)
    trips.heard(stray(0.15, 0x7E8, SPEED_IS))
    assert trips.late_since(START_S) == [SPEED]
    trips.heard(stray(0.16, 0x7E9, COOLANT_IS))  # another module's
    trips.heard(stray(0.17, 0x7E8, SPEED_IS))  # the same once more
    trips.heard(stray(0.18, 0x7E8, COOLANT_IS))
    assert trips.late_since(START_S) == [SPEED]
    assert trips.usual_s == pytest.approx(0.08, abs=1e-5)
    trips.heard(stray(2.0, 0x7E8, COOLANT_IS))
    assert trips.late_since(START_S) == [SPEED]


def test_an_answer_that_can_be_of_two_questions_measures_nothing() -> None:
    trips = RoundTrips()
    trips.said(SPEED, START_S)
    trips.said(SPEED, START_S + 0.1)
    trips.heard(stray(0.15, 0x7E8, SPEED_IS))
    assert trips.usual_s is None and trips.late_since(START_S) == []


def test_all_modules_may_answer_a_question_to_all() -> None:
    trips = RoundTrips()
    trips.said(Request(ALL_11, Service.CURRENT_DATA, (0x0C,)), START_S)
    trips.heard(stray(0.02, 0x7E8, SPEED_IS))
    trips.heard(stray(0.05, 0x7E9, SPEED_IS))
    assert trips.usual_s == pytest.approx(0.02, abs=1e-5)
