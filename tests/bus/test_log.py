"""A recording on the disk: candump text that two independent readers take, and what a kill leaves of it."""

from pathlib import Path

import can
import pytest

from relearn.bus import log
from relearn.bus.frame import Frame
from relearn.bus.log import KEEP_S, Log, line
from relearn.capture import load
from relearn.capture.keep import Keep
from relearn.errors import CaptureError, ChoiceError

QUESTION = Frame(1_700_000_000.123456, 0x7E0, False, bytes.fromhex("02010c0000000000"))
ANSWER = Frame(1_700_000_000.130001, 0x18DAF110, True, bytes.fromhex("04410c0bb8000000"))
LONG = Frame(1_700_000_000.2, 0x123, False, bytes(range(12)))
BUS_ERROR = Frame(1_700_000_000.3, 0x80, False, bytes(8), error=True)
UNTOLD = Frame(1_700_000_000.4, 0, False, b"", error=True)
EVERY = (QUESTION, ANSWER, LONG, BUS_ERROR, UNTOLD)


@pytest.mark.parametrize(
    ("frame", "text"),
    [
        (QUESTION, "(1700000000.123456) can0 7E0#02010C0000000000"),
        (ANSWER, "(1700000000.130001) can0 18DAF110#04410C0BB8000000"),
        (LONG, "(1700000000.200000) can0 123##0000102030405060708090A0B"),
        (BUS_ERROR, "(1700000000.300000) can0 20000080#0000000000000000"),
        (UNTOLD, "(1700000000.400000) can0 20000080#"),
    ],
)
def test_a_line_as_candump_writes_it(frame: Frame, text: str) -> None:
    """can-utils' candump -l; CAN_ERR_FLAG and CAN_ERR_BUSERROR of Linux's can.h and can/error.h, from memory."""
    assert line(frame) == f"{text}\n"


def written(path: Path) -> Path:
    made = Log(path)
    for frame in EVERY:
        made.witness(frame)
    made.close()
    return path


def test_our_own_reader_takes_it(tmp_path: Path) -> None:
    capture = load(written(tmp_path / "a.log"), Keep(broadcast_11=frozenset({0x123})))
    assert capture.frames is not None
    assert capture.frames.identifier.tolist() == [0x7E0, 0x18DAF110, 0x123]
    assert capture.frames.length.tolist() == [8, 8, 12]
    assert [(one.kind, one.count) for one in capture.faults] == [("error-frame", 2)]


def test_python_cans_reader_takes_it(tmp_path: Path) -> None:
    with can.LogReader(written(tmp_path / "a.log")) as reader:
        messages = list(reader)
    assert [one.is_error_frame for one in messages] == [False, False, False, True, True]
    assert [(one.timestamp, one.arbitration_id, bytes(one.data)) for one in messages[:3]] == [
        (frame.time_s, frame.identifier, frame.data) for frame in EVERY[:3]
    ]


def test_lines_reach_the_file_twice_a_second(tmp_path: Path) -> None:
    path, now_s = tmp_path / "a.log", 1_700_000_000.0
    made = Log(path)
    made.keep(now_s)
    made.witness(QUESTION)
    made.keep(now_s + KEEP_S - 0.01)
    assert path.read_bytes() == b""
    made.keep(now_s + KEEP_S)
    assert path.read_text() == line(QUESTION)
    made.close()
    made.close()


def test_it_is_never_written_over_another_file(tmp_path: Path) -> None:
    path = written(tmp_path / "a.log")
    before = path.read_bytes()
    with pytest.raises(ChoiceError, match="is there already"):
        Log(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("name", ["a.txt", "a.log.gz", "a.blf", "a"])
def test_only_log_text_is_written(tmp_path: Path, name: str) -> None:
    with pytest.raises(ChoiceError, match="candump text"):
        Log(tmp_path / name)
    assert not (tmp_path / name).exists()


def test_a_full_disk_leaves_whole_lines(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.log"
    made = Log(path)
    made.witness(QUESTION)
    made.keep(1.0)

    def half(descriptor: int, data: bytes) -> None:
        log.os.write(descriptor, data[:10])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(log, "write", half)
    made.witness(ANSWER)
    with pytest.raises(CaptureError, match="No space left"):
        made.keep(2.0)
    made.close()
    assert path.read_text() == line(QUESTION)
