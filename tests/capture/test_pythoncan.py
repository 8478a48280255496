"""The formats that python-can reads. Source of the expected frames: python-can's writers, and its readers."""

from __future__ import annotations

import gzip
import os
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path

import can
import pytest

from relearn.capture import Capture, load
from relearn.errors import CaptureError
from tests.capture.build import START_S, answer, keep_all, seen, write

FRAMES = [answer(row / 8, row, identifier=0x18DAF110 if row % 3 == 0 else 0x7E8, channel=row % 2) for row in range(40)]
BROADCAST = [answer(row / 8 + 0.01, row, identifier=0x1A0, channel=0) for row in range(40)]
MIXED = sorted(FRAMES + BROADCAST, key=lambda message: message.timestamp)
SUFFIXES = (".asc", ".blf", ".trc", ".csv", ".mf4", ".db")
TEXTS = (".asc", ".trc", ".csv")
RESOLUTION_S = {".asc": 1e-3, ".trc": 1e-3, ".blf": 1e-3}
"""How well a start is kept: ASC and TRC write milliseconds, BLF starts its clock at a whole one."""


def edited(path: Path, place: int, change: str | None) -> Path:
    """The text with one of its lines of frames changed; None cuts the file in the middle of it."""
    lines = path.read_text().splitlines(keepends=True)
    frames = [row for row, line in enumerate(lines) if "AA" in line.upper() or "qqqq" in line]
    lines[frames[place]] = change + "\n" if change else lines[frames[place]][:-12]
    path.write_text("".join(lines[: frames[place] + 1] if change is None else lines))
    return path


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_written_by_python_can_and_read_back(tmp_path: Path, suffix: str) -> None:
    capture = load(write(tmp_path / f"bus{suffix}", MIXED))
    assert capture.total_frames == len(MIXED)
    assert capture.faults == ()
    assert [frame[1:] for frame in seen(capture.frames)] == [
        (message.arbitration_id, message.is_extended_id, bytes(message.data)) for message in FRAMES
    ]
    assert [frame[0] for frame in seen(capture.frames)] == pytest.approx(
        [message.timestamp - START_S for message in FRAMES], abs=1e-6
    )
    assert capture.start_unix_s == pytest.approx(START_S, abs=RESOLUTION_S.get(suffix, 1e-6))
    assert capture.duration_s == pytest.approx(MIXED[-1].timestamp - START_S, abs=1e-6)


@pytest.mark.parametrize("suffix", [".asc", ".blf", ".trc", ".mf4"])
def test_two_buses_keep_apart(tmp_path: Path, suffix: str) -> None:
    frames = load(write(tmp_path / f"bus{suffix}", FRAMES)).frames
    assert frames is not None
    assert frames.bus.tolist() == [row % 2 for row in range(len(FRAMES))]


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_broadcast_frames_stay_when_asked_for(tmp_path: Path, suffix: str) -> None:
    capture = load(write(tmp_path / f"bus{suffix}", MIXED), keep_all())
    assert len(seen(capture.frames)) == len(MIXED)


@pytest.mark.parametrize("suffix", [".asc", ".blf", ".trc", ".csv", ".mf4"])
def test_gzipped(tmp_path: Path, suffix: str) -> None:
    plain = write(tmp_path / f"bus{suffix}", FRAMES)
    packed = tmp_path / f"bus{suffix}.gz"
    packed.write_bytes(gzip.compress(plain.read_bytes(), mtime=0))
    assert seen(load(packed).frames) == seen(load(plain).frames)


@pytest.mark.parametrize("suffix", [".asc", ".blf", ".mf4"])
def test_can_fd(tmp_path: Path, suffix: str) -> None:
    made = [
        can.Message(
            timestamp=START_S + length,
            arbitration_id=0x7E8,
            is_extended_id=False,
            is_fd=True,
            data=bytes(range(length)),
            channel=0,
        )
        for length in (1, 8, 12, 20, 48, 64)
    ]
    frames = load(write(tmp_path / f"bus{suffix}", made)).frames
    assert frames is not None
    assert frames.data.shape == (6, 64)
    assert [frame[3] for frame in seen(frames)] == [bytes(message.data) for message in made]


def test_can_fd_in_a_trc(tmp_path: Path) -> None:
    """By hand, as python-can writes no CAN FD there: column L is the code of the length, 9 for 12 bytes, 15 for 64."""
    path = tmp_path / "bus.trc"
    path.write_text(
        ";$FILEVERSION=2.1\n;$STARTTIME=47604.5\n;$COLUMNS=N,O,T,B,I,d,R,L,D\n"
        f"      1      1000.000 FD 1     07E8 Rx -  9    {bytes(range(12)).hex(' ')}\n"
        f"      2      1500.000 FB 1     07E8 Rx -  15   {bytes(range(64)).hex(' ')}\n"
        f"      3      1600.000 FB 1     07E8 Rx -  15   {bytes(range(60)).hex(' ')}\n"
    )
    capture = load(path)
    assert seen(capture.frames) == [(0.0, 0x7E8, False, bytes(range(12))), (0.5, 0x7E8, False, bytes(range(64)))]
    assert capture.start_unix_s == 1903867201.0  # day 47604.5 since 1899-12-30 is 2030-05-01 12:00 UTC
    assert [(fault.kind, fault.first_frame) for fault in capture.faults] == [("malformed-line", 6)]


@pytest.mark.parametrize("suffix", [".asc", ".blf", ".csv", ".mf4", ".db"])
def test_remote_and_error_frames_are_counted_not_kept(tmp_path: Path, suffix: str) -> None:
    odd = [
        can.Message(timestamp=START_S + 9, arbitration_id=0x7E8, is_remote_frame=True, channel=0),
        can.Message(timestamp=START_S + 9, is_error_frame=True, channel=0),
    ]
    capture = load(write(tmp_path / f"bus{suffix}", [*FRAMES, *odd]))
    assert capture.total_frames == len(FRAMES) + 2
    assert len(seen(capture.frames)) == len(FRAMES)
    assert [(fault.kind, fault.count) for fault in capture.faults] == [("error-frame", 1)]


@pytest.mark.parametrize(
    ("suffix", "line"),
    [
        (".asc", "this is no frame"),
        (".asc", " 1.250000 1  7E8             Rx   d 8 03 41 0D 0A AA"),
        (".asc", " 1.250000 1  7E8             Rx   d 8 03 41 0D 0A AA AA ZZ AA"),
        (".asc", " 1.250000 1  7E8             Rx   d"),
        (".trc", "this is no frame"),
        (".trc", "     11      1250.000 DT  0     07E8 Rx -  8    03 41 0D 0A AA"),
        (".trc", "     11      1250.000 DT"),
        (".trc", "     11      x.000 DT  0     07E8 Rx -  8    03 41 0D 0A AA AA AA AA"),
        (".csv", "this is no frame"),
        (".csv", "1700000001.25,0x7e8,0,0,0,8,A0ENCg=="),
        (".csv", "nan,0x7e8,0,0,0,8,A0ENCqqqqqo="),
        (".csv", "1700000001.25,0x8e8,0,0,0,8,A0ENCqqqqqo="),
    ],
)
def test_reading_goes_on_behind_a_malformed_line(tmp_path: Path, suffix: str, line: str) -> None:
    whole = load(write(tmp_path / f"bus{suffix}", FRAMES))
    capture = load(edited(tmp_path / f"bus{suffix}", 10, line))
    assert whole.frames is not None
    assert capture.frames is not None
    number = int(whole.frames.number[10])
    assert capture.frames.number.tolist() == [each for each in whole.frames.number.tolist() if each != number]
    assert [(fault.kind, fault.first_frame) for fault in capture.faults] == [("malformed-line", number)]


@pytest.mark.parametrize("suffix", TEXTS)
def test_a_cut_off_last_line_is_its_own_fault(tmp_path: Path, suffix: str) -> None:
    capture = load(edited(write(tmp_path / f"bus{suffix}", FRAMES), 20, None))
    assert capture.total_frames == 20
    assert [fault.kind for fault in capture.faults] == ["truncated-last-line"]


@pytest.mark.parametrize("suffix", TEXTS)
def test_numbers_are_lines_in_a_text(tmp_path: Path, suffix: str) -> None:
    path = write(tmp_path / f"bus{suffix}", FRAMES[:2])
    first = next(row for row, line in enumerate(path.read_text().splitlines(), 1) if "AA AA" in line or "qqqq" in line)
    frames = load(path).frames
    assert frames is not None
    assert frames.number.tolist() == [first, first + 1]


def many() -> list[can.Message]:
    """So many that they fill several blocks of a compressed file."""
    return [answer(row / 100, row * 97 % 256) for row in range(12_000)]


@pytest.mark.parametrize(("suffix", "written"), [(".blf", many), (".db", lambda: many()[:450])])
def test_a_file_cut_short_keeps_what_came_before(tmp_path: Path, suffix: str, written: object) -> None:
    assert callable(written)
    path = write(tmp_path / f"bus{suffix}", written())
    path.write_bytes(path.read_bytes()[: -len(written()) // 9])
    capture = load(path)
    assert 0 < capture.total_frames < len(written())
    assert [fault.kind for fault in capture.faults] == ["truncated-file"]


@pytest.mark.parametrize("suffix", TEXTS)
def test_a_gzipped_text_cut_short_keeps_what_came_before(tmp_path: Path, suffix: str) -> None:
    plain = write(tmp_path / f"bus{suffix}", many()[:4000])
    packed = tmp_path / f"cut{suffix}.gz"
    packed.write_bytes(gzip.compress(plain.read_bytes(), mtime=0)[:-2000])
    capture = load(packed)
    assert 0 < capture.total_frames < 4000
    assert capture.faults[-1].kind == "truncated-file"


@pytest.mark.parametrize("suffix", SUFFIXES)
@pytest.mark.filterwarnings("ignore::ResourceWarning")
@pytest.mark.filterwarnings("error::pytest.PytestUnraisableExceptionWarning")
def test_noise_is_one_sentence(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"bus{suffix}"
    path.write_bytes(os.urandom(20_000))
    with pytest.raises(CaptureError, match=rf"bus{suffix}: .*; .*\.$"):
        load(path)


@pytest.mark.parametrize("keep", [40, 70, 200, 3000, -60])
@pytest.mark.filterwarnings("ignore::ResourceWarning")
def test_an_mf4_cut_short_is_one_sentence(tmp_path: Path, keep: int, capfd: pytest.CaptureFixture[str]) -> None:
    path = write(tmp_path / "bus.mf4", FRAMES)
    path.write_bytes(path.read_bytes()[:keep])
    with pytest.raises(CaptureError, match=r"bus\.mf4: "):
        load(path)
    assert "Traceback" not in capfd.readouterr().err


def test_mf4_without_its_extra_says_how_to_get_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write(tmp_path / "bus.mf4", FRAMES)
    monkeypatch.setitem(__import__("sys").modules, "asammdf.blocks.utils", None)
    with pytest.raises(CaptureError, match=r'pip install "relearn\[mf4\]"'):
        load(path)


@pytest.mark.parametrize("suffix", [".csv", ".db", ".mf4"])
def test_times_before_the_year_2000_are_no_wall_clock(tmp_path: Path, suffix: str) -> None:
    made = [
        can.Message(timestamp=second, arbitration_id=0x7E8, is_extended_id=False, data=b"\1", channel=0)
        for second in (5.0, 6.5)
    ]
    capture = load(write(tmp_path / f"bus{suffix}", made))
    assert capture.start_unix_s is None
    assert capture.duration_s == 1.5


def test_time_going_backwards_is_an_error_with_its_line(tmp_path: Path) -> None:
    path = write(tmp_path / "bus.csv", [FRAMES[0], FRAMES[8], FRAMES[4]])
    with pytest.raises(CaptureError, match=r"line 4: time goes backwards"):
        load(path)


def test_time_going_backwards_in_a_file_without_lines_names_the_frame(tmp_path: Path) -> None:
    path = write(tmp_path / "bus.db", [FRAMES[0], FRAMES[8], FRAMES[4]])
    with pytest.raises(CaptureError, match=r"bus\.db: time goes backwards at frame 3"):
        load(path)


def test_a_database_with_anything_in_it(tmp_path: Path) -> None:
    """SQLite columns hold values of any type."""
    path = write(tmp_path / "bus.db", FRAMES[:2])
    with sqlite3.connect(path) as database:
        database.execute("INSERT INTO messages VALUES ('noon', 2024, 0, 0, 0, 1, x'01')")
        database.execute("INSERT INTO messages VALUES (?, 'engine', 0, 0, 0, 1, x'01')", (START_S + 1,))
        database.execute("INSERT INTO messages VALUES (?, 2024, 0, 0, 0, 2, x'01')", (START_S + 1,))
    database.close()
    capture = load(path)
    assert len(seen(capture.frames)) == 2
    assert [(fault.kind, fault.first_frame, fault.count) for fault in capture.faults] == [("malformed-frame", 3, 3)]


def test_status_lines_of_a_trc_are_no_malformed_lines(tmp_path: Path) -> None:
    path = write(tmp_path / "bus.trc", FRAMES)
    path.write_text(path.read_text() + "     41     10000.000 ST 1       - Rx -  4    00 00 00 08\n")
    assert load(path).faults == ()


# the layout of an ASC header and frame, as python-can's documentation and its test files show it

ASC_FRAME = "   {:.6f} 1  7E8             Rx   d 3 03 41 0D\n"


def asc(folder: Path, header: str) -> Capture:
    path = folder / "bus.asc"
    path.write_text(header + "".join(ASC_FRAME.format(second) for second in (0.5, 1.0, 1.5)))
    return load(path)


@pytest.fixture
def in_utc() -> Iterator[None]:
    """This computer's zone set to UTC."""
    before = os.environ.get("TZ")
    os.environ["TZ"] = "UTC"
    time.tzset()
    yield
    os.environ.pop("TZ")
    os.environ.update({} if before is None else {"TZ": before})
    time.tzset()


@pytest.mark.usefixtures("in_utc")
def test_asc_with_a_date(tmp_path: Path) -> None:
    capture = asc(tmp_path, "date Wed May 1 12:00:00.250 2030\nbase hex  timestamps absolute\ninternal events logged\n")
    assert capture.start_unix_s == 1903867200.75  # by the date command: 2030-05-01 12:00:00.75 UTC
    assert "no time zone" in capture.notes[0]


@pytest.mark.parametrize(
    "header",
    [
        "base hex  timestamps absolute\n",
        "date once upon a time\nbase hex  timestamps absolute\nno internal events logged\n",
    ],
)
def test_asc_without_a_date_that_can_be_read(tmp_path: Path, header: str) -> None:
    """Nor does the first frame behind a short header get lost."""
    capture = asc(tmp_path, header)
    assert capture.start_unix_s is None
    assert capture.total_frames == 3


def test_asc_with_times_from_line_to_line_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CaptureError, match="from line to line"):
        asc(tmp_path, "date Wed May 1 12:00:00 2030\nbase hex  timestamps relative\ninternal events logged\n")


def test_other_events_of_an_asc_are_no_malformed_lines(tmp_path: Path) -> None:
    header = (
        "date Wed May 1 12:00:00 2030\nbase hex  timestamps absolute\ninternal events logged\n// a remark\n"
        "Begin Triggerblock Wed May 1 12:00:00 2030\n   0.000000 Start of measurement\n"
        "   0.100000 CAN 1 Status:chip status error active\n   0.200000 1  Statistic: D 0 R 0 XD 0 XR 0 E 0 B 0%\n"
    )
    assert asc(tmp_path, header).faults == ()
