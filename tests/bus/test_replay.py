"""Recorded frames on a bus as they were: order, gaps, every identifier; nothing that a module would act upon."""

from __future__ import annotations

from pathlib import Path

import pytest

from relearn.bus.frame import Frame
from relearn.bus.replay import KEEP_EVERYTHING, Score, replay, score
from relearn.bus.wire import Line
from relearn.capture import load
from relearn.errors import BusError, CaptureError
from tests.bus.captures import CAPTURES, lines
from tests.bus.simulated import FRAME_S, START_S, CountedBus, CountedClock

FRAMES = [
    "(100.000000) can0 123#0102",
    "(100.100000) can0 7DF#0104000000000000",  # clears codes
    "(100.200000) can0 7DF#02010C0000000000",
    "(100.205000) can0 7E8#04410C0BB8000000",
    "(100.206000) can1 7E8#04410C0FA0000000",
    "(100.400000) can0 18FEF100#FFFF",
    "(100.500000) can0 7E0#1008221234560000",  # a question of more than one frame
    "(101.000000) can0 456##1" + "AB" * 64,
]


def of(folder: Path, from_s: float = 0.0) -> Score:
    path = folder / "made.log"
    path.write_text("\n".join(FRAMES) + "\n", encoding="ascii")
    return score(load(path, KEEP_EVERYTHING), from_s)


def played(score: Score, from_s: float = 0.0, speed: float = 1.0) -> list[tuple[float, int, str]]:
    clock = CountedClock()
    bus = CountedBus(clock)
    replay(Line(bus, clock, lambda frame: None), score, from_s, speed)
    return [(round(one.time_s - FRAME_S - START_S, 6), one.identifier, one.data.hex()) for one in bus.sent]


def test_frames_in_their_order_with_their_gaps(tmp_path: Path) -> None:
    assert played(of(tmp_path)) == [
        (0.0, 0x123, "0102"),
        (0.2, 0x7DF, "02010c0000000000"),
        (0.205, 0x7E8, "04410c0bb8000000"),
        (0.4, 0x18FEF100, "ffff"),
        (1.0, 0x456, "ab" * 64),
    ]


def test_faster_and_from_later(tmp_path: Path) -> None:
    assert [at_s for at_s, _, _ in played(of(tmp_path, 0.2), 0.2, 2.0)] == [0.0, 0.0025, 0.1, 0.4]


def test_what_is_left_out_is_told_with_its_reason(tmp_path: Path) -> None:
    assert of(tmp_path).left_out == (
        "2 frames are left out; the first: 7DF#0104000000000000 is no question of a reading service",
        "1 frame is left out: recorded on another interface",
    )


def test_a_whole_broadcast_capture_goes_by_unchanged() -> None:
    clock = CountedClock()
    bus = CountedBus(clock)
    score_ = score(load(CAPTURES / "passive-broadcast.log", KEEP_EVERYTHING))
    assert replay(Line(bus, clock, lambda frame: None), score_, 0.0, 1.0) == len(bus.sent) == 14465
    source = [(identifier, data) for _, identifier, data in lines("passive-broadcast.log")]
    assert [(one.identifier, one.data) for one in bus.sent] == source


def test_another_module_on_the_bus_ends_it(tmp_path: Path) -> None:
    clock = CountedClock()
    bus = CountedBus(clock)
    bus.put(Frame(START_S + 0.3, 0x7E8, False, bytes(8)))
    with pytest.raises(BusError, match="another module speaks"):
        replay(Line(bus, clock, lambda frame: None), of(tmp_path), 0.0, 1.0)
    assert len(bus.sent) == 3


def test_it_stops_when_it_is_told_to(tmp_path: Path) -> None:
    clock = CountedClock()
    bus = CountedBus(clock)
    line = Line(bus, clock, lambda frame: None)
    assert replay(line, of(tmp_path), 0.0, 1.0, lambda: clock.now_s() >= START_S + 0.3) == 3


def test_nothing_to_replay(tmp_path: Path) -> None:
    with pytest.raises(CaptureError, match="earlier --from"):
        of(tmp_path, 1.5)
    with pytest.raises(CaptureError, match="table of values"):
        score(load(CAPTURES / "sagging-supply.csv"))
