"""The recent part of a recording in memory holds what its file holds."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from relearn.bus import window
from relearn.bus.frame import Frame
from relearn.bus.log import Log
from relearn.bus.window import ROW, Window, lasts
from relearn.capture import load
from relearn.capture.keep import Keep
from relearn.recording import live

PATH = Path("a.log")
START_S = 1_700_000_000.0


def kept(frames: Sequence[Frame], keep_s: float = 900.0) -> Window:
    made = Window(keep_s=keep_s)
    for frame in frames:
        made.witness(frame)
    return made


def said(time_s: float, identifier: int, text: str) -> Frame:
    return Frame(START_S + time_s, identifier, False, bytes.fromhex(text.replace(" ", "")).ljust(8, b"\0"))


CALIBRATION = [
    said(0.0, 0x7DF, "02 09 04"),
    said(0.1, 0x7E8, "10 13 49 04 01 44 45 4D"),
    said(0.2, 0x7E0, "30 00 00"),
    said(0.3, 0x7E8, "21 4F 2D 30 30 30 31 00"),
    said(0.4, 0x7E8, "22 00 00 00 00 00 00 00"),
]
SPEED = [
    said(1.0 + second, who, text)
    for second in range(100)
    for who, text in ((0x7E0, "02 01 0C"), (0x7E8, "04 41 0C 0B B8"))
]

frames = st.builds(
    lambda gap_us, identifier, data, error: (gap_us, identifier, data, error),
    st.integers(0, 3_000_000),
    st.sampled_from([0x7DF, 0x7E0, 0x7E8, 0x7E9, 0x123]),
    st.binary(max_size=8),
    st.sampled_from([False, False, False, True]),
)


@given(st.lists(frames, min_size=1, max_size=40))
def test_it_holds_what_the_file_holds(
    tmp_path_factory: pytest.TempPathFactory, made: list[tuple[int, int, bytes, bool]]
) -> None:
    path = tmp_path_factory.mktemp("window") / "a.log"
    log, seen, time_us = Log(path), Window(), 0
    for gap_us, identifier, data, error in made:
        time_us += gap_us
        frame = Frame(START_S + time_us / 1e6, identifier, False, data, error)
        log.witness(frame)
        seen.witness(frame)
    log.close()
    file, memory = load(path), seen.capture(path, frame.time_s)
    assert file.frames is not None and memory.frames is not None
    for column in ("number", "bus", "identifier", "extended", "length", "data"):
        assert np.array_equal(getattr(file.frames, column), getattr(memory.frames, column)), column
    assert np.allclose(file.frames.time_s, memory.frames.time_s, atol=2e-6)
    assert (file.total_frames, file.faults) == (memory.total_frames, memory.faults)
    assert file.duration_s == pytest.approx(memory.duration_s, abs=2e-6)


def test_what_is_old_goes_and_identity_stays() -> None:
    seen = kept([*CALIBRATION, *SPEED], keep_s=10.0)
    capture = seen.capture(PATH, START_S + 101.0)
    recording = live(capture)
    assert [one.values for one in recording.identity] == [("DEMO-0001",)]
    assert recording.samples["time_s"].min() >= 91.0
    assert recording.samples["frame"].max() == len(CALIBRATION) + len(SPEED)
    assert capture.duration_s == 101.0
    assert capture.notes == ("Only its last 10 s are looked at while it is being made.",)


def test_a_question_nobody_answers_takes_nothing_away() -> None:
    asked_in_vain = said(200.0, 0x7DF, "02 09 04")
    capture = kept([*CALIBRATION, *SPEED, asked_in_vain], keep_s=10.0).capture(PATH, START_S + 300.0)
    assert [one.values for one in live(capture).identity] == [("DEMO-0001",)]


def test_the_newest_answer_stays() -> None:
    later = [said(300.0, 0x7DF, "02 09 04"), said(300.1, 0x7E8, "10 13 49 04 01 4E 45 57"), *CALIBRATION[2:]]
    capture = kept([*CALIBRATION, *later], keep_s=10.0).capture(PATH, START_S + 400.0)
    (identity,) = live(capture).identity
    assert identity.values == ("NEWO-0001",)


def test_before_anything_was_heard() -> None:
    recording = live(Window().capture(PATH, START_S))
    assert (recording.modules, len(recording.samples), recording.duration_s) == ((), 0, 0.0)


def test_too_much_to_keep_goes_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(window, "MOST_ROWS", 50)
    capture = kept(SPEED).capture(PATH, START_S + 101.0)
    assert capture.frames is not None
    assert len(capture.frames) == 50
    assert int(capture.frames.number[-1]) == len(SPEED)


def test_what_a_database_asks_for_is_kept() -> None:
    seen = Window(Keep(broadcast_11=frozenset({0x123})))
    for identifier in (0x123, 0x124, 0x7E8):
        seen.witness(said(0.0, identifier, "01"))
    capture = seen.capture(PATH, START_S)
    assert capture.frames is not None
    assert capture.frames.identifier.tolist() == [0x123, 0x7E8]


@pytest.mark.parametrize("text", ["0103", "0107", "010A", "020904", "020100", "03010020", "0322F804", "0322F420"])
def test_what_lasts(text: str) -> None:
    """SAE J1979: codes (03, 07, 0A), vehicle information (09), support (01 with 00, 20, …); J1979-2: F8xx, F400, …"""
    assert lasts(bytes.fromhex(text).ljust(8, b"\0"))


@pytest.mark.parametrize("text", ["02010C", "0301000C", "020101", "0322F40C", "300000", "10134904", "03020200", ""])
def test_what_does_not(text: str) -> None:
    assert not lasts(bytes.fromhex(text).ljust(8, b"\0"))


def test_a_row_is_packed_without_gaps() -> None:
    assert ROW.itemsize == window.PACKED.size
