"""The log form (`candump -L`). Source of the expected frames: python-can's own reader and writer of that form."""

from __future__ import annotations

import gzip
import tempfile
from pathlib import Path

import can
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from relearn.capture import Capture, candump
from relearn.capture.candump_forms import FORMS
from relearn.capture.keep import KEEP_DIAGNOSTIC, Keep
from relearn.capture.marks import Desk, block, places
from relearn.errors import CaptureError
from tests.capture.build import answer, by_python_can, keep_all, seen, write

GOOD = "(1700000000.000000) can0 7E8#03410D0AAAAAAAAA\n"
LATER = "(1700000000.500000) can0 7E8#03410D0BAAAAAAAA\n"


def read(folder: Path, text: str, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    path = folder / "bus.log"
    path.write_bytes(text.encode())
    return candump.read(path, keep)


def only(capture: Capture) -> tuple[int, bool, int, bytes]:
    """Identifier, 29-bit, length and data of the one frame kept."""
    assert capture.frames is not None
    assert len(capture.frames) == 1
    frame = capture.frames
    return int(frame.identifier[0]), bool(frame.extended[0]), int(frame.length[0]), frame.data[0].tobytes()


@st.composite
def messages(draw: st.DrawFn) -> list[can.Message]:
    """Rising microseconds, 11 and 29 bits, CAN and CAN FD, remote frames, sent and received, two interfaces."""
    made, time_us = [], draw(st.sampled_from((0, 9_999_990, 1_700_000_000_000_000)))
    for _ in range(draw(st.integers(1, 25))):
        extended, fd = draw(st.booleans()), draw(st.booleans())
        length = draw(st.sampled_from((0, 1, 7, 8, 12, 20, 48, 64) if fd else range(9)))
        made.append(
            can.Message(
                timestamp=time_us / 1e6,
                is_extended_id=extended,
                is_fd=fd,
                is_rx=draw(st.booleans()),
                arbitration_id=draw(st.integers(0, 0x1FFFFFFF if extended else 0x7FF)),
                is_remote_frame=not fd and draw(st.integers(0, 9)) == 0,
                data=draw(st.binary(min_size=length, max_size=length)),
                channel=draw(st.sampled_from(("can0", "vcan1"))),
            )
        )
        time_us += draw(st.sampled_from((0, 1, 999, 20_000, 7_000_000)))
    return made


@settings(max_examples=60, deadline=None)
@given(messages(), st.booleans(), st.sampled_from((400, 1 << 20)))
def test_every_frame_is_what_python_can_reads(made: list[can.Message], lower: bool, block_bytes: int) -> None:
    """Small blocks put the block's edges everywhere in the lines."""
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        path = write(Path(folder) / "bus.log", made)
        if lower:
            path.write_text(path.read_text().lower())
        patch.setattr(candump, "BLOCK_BYTES", block_bytes)
        capture = candump.read(path, keep_all(message.arbitration_id for message in made if message.is_extended_id))
        expected = by_python_can(path)
        assert capture.total_frames == len(made)
        assert capture.faults == ()
        assert [frame[1:] for frame in seen(capture.frames)] == [frame[1:] for frame in expected]
        assert [frame[0] for frame in seen(capture.frames)] == pytest.approx([frame[0] for frame in expected], abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_only_what_is_asked_for_stays(data: st.DataObject) -> None:
    """Most lines are skimmed over: what stays must be the same as when each is chosen one by one."""
    identifiers = data.draw(st.lists(st.sampled_from((0x100, 0x7DE, 0x7DF, 0x7E7, 0x7E8, 0x7EF, 0x7F0)), min_size=1))
    lengths = data.draw(st.lists(st.integers(0, 8), min_size=len(identifiers), max_size=len(identifiers)))
    lines = [
        f"(1700000000.{row:06}) can0 {identifier:03X}#{'5A' * length}\n"
        for row, (identifier, length) in enumerate(zip(identifiers, lengths, strict=True))
    ]
    with tempfile.TemporaryDirectory() as folder:
        capture = read(Path(folder), "".join(lines), Keep(frozenset({0x100})))
    assert capture.frames is not None
    assert capture.total_frames == len(lines)
    expected = [row + 1 for row, identifier in enumerate(identifiers) if identifier not in (0x7DE, 0x7F0)]
    assert capture.frames.number.tolist() == expected


@settings(max_examples=100, deadline=None)
@given(st.text(st.sampled_from("(). #17E8can0\n"), max_size=60), st.integers(0, 3))
def test_garbage_between_good_lines_never_harms_them(garbage: str, repeats: int) -> None:
    broadcast = "(1700000000.250000) can0 123#0102\n" * repeats
    with tempfile.TemporaryDirectory() as folder:
        capture = read(Path(folder), f"{GOOD}{broadcast}\n{garbage}\n{LATER}")
    kept = [frame[3] for frame in seen(capture.frames)]
    assert kept[0] == bytes.fromhex("03410D0AAAAAAAAA")
    assert kept[-1] == bytes.fromhex("03410D0BAAAAAAAA")
    assert capture.total_frames == 2 + repeats


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("7E8#0341", (0x7E8, False, 2, "0341")),
        ("7e8#03ab", (0x7E8, False, 2, "03ab")),
        ("7E8#", (0x7E8, False, 0, "")),
        ("7E8#0341 R", (0x7E8, False, 2, "0341")),
        ("7E8#0341 T", (0x7E8, False, 2, "0341")),
        ("7E8#0341\r", (0x7E8, False, 2, "0341")),
        ("7E8#0341 R\r", (0x7E8, False, 2, "0341")),
        ("7E8#0102030405060708_9", (0x7E8, False, 8, "0102030405060708")),
        ("7E8##1" + "11" * 12, (0x7E8, False, 12, "11" * 12)),
        ("18DAF110#0341", (0x18DAF110, True, 2, "0341")),
        ("18DAF110##0" + "22" * 64, (0x18DAF110, True, 64, "22" * 64)),
    ],
)
def test_one_line(tmp_path: Path, line: str, expected: tuple[int, bool, int, str]) -> None:
    identifier, extended, length, data = only(read(tmp_path, f"(1700000000.000000) can0 {line}\n"))
    assert (identifier, extended, length) == expected[:3]
    assert data == bytes.fromhex(expected[3]).ljust(8 if length <= 8 else 64, b"\0")


@pytest.mark.parametrize(
    "line",
    [
        "this is no frame",
        "(1700000000.100000) can0 7E8#03410",
        "(1700000000.100000) can0 7E8#0341G0",
        "(1700000000.100000) can0 7E8#03\r41",
        "(1700000000.100000) can0 7E8#010203040506070809",
        "(1700000000.100000) can0 7E8##1" + "11" * 9,
        "(1700000000.100000) can0 8E8#0341",
        "(1700000000.100000) can0 78DAF110#0341",
        "(1700000000.100000) can0 7E8",
        "(1700000000.100000) 7E8#0341",
        "(17000x0000.100000) can0 7E8#0341",
        "(1700000000.1) ca(1700000000.2) can0 7E8#0341",
        "(1700000000.100000) can0 123#0G",
        "(1700000000.100000) can0 123#012",
        "(1700000000.100000) can0 123#11#22",
        "(1700000000.100000 can0 123#11",
        "(17000x0000.100000) can0 123#11",
    ],
)
def test_a_malformed_line_is_counted_and_gives_no_frame(tmp_path: Path, line: str) -> None:
    capture = read(tmp_path, GOOD + "(1700000000.050000) can0 123#FF\n" + line + "\n" + LATER)
    assert [frame[3][3] for frame in seen(capture.frames)] == [0x0A, 0x0B]
    assert capture.total_frames == 3
    [fault] = capture.faults
    assert (fault.kind, fault.first_frame, fault.count) == ("malformed-line", 3, 1)


def test_malformed_lines_are_folded_into_one_fault(tmp_path: Path) -> None:
    [fault] = read(tmp_path, GOOD + "x\n\ny\n" + LATER + "z\n").faults
    assert (fault.kind, fault.first_frame, fault.last_frame, fault.count) == ("malformed-line", 2, 6, 3)


def test_a_cut_off_last_line_is_its_own_fault(tmp_path: Path) -> None:
    capture = read(tmp_path, GOOD + LATER[:-4])
    [fault] = capture.faults
    assert (fault.kind, fault.first_frame) == ("truncated-last-line", 2)
    assert capture.total_frames == 1


def test_a_whole_last_line_needs_no_newline(tmp_path: Path) -> None:
    capture = read(tmp_path, GOOD + LATER[:-1])
    assert capture.faults == ()
    assert capture.total_frames == 2


@pytest.mark.parametrize("text", ["\ufeff" + GOOD + LATER, "\ufeff" + GOOD + LATER.strip(), "\ufeff" + GOOD])
def test_a_byte_order_mark_costs_no_line(tmp_path: Path, text: str) -> None:
    capture = read(tmp_path, text)
    assert (capture.total_frames, capture.faults) == (text.count("#"), ())


def test_remote_and_error_frames_are_counted_not_kept(tmp_path: Path) -> None:
    remote = "(1700000000.100000) can0 7E8#R8\n(1700000000.100000) can0 7DF#R\n"
    error = "(1700000000.200000) can0 20000080#0000000000000000\n" * 3
    capture = read(tmp_path, GOOD + remote + error)
    assert capture.total_frames == 6
    assert len(seen(capture.frames)) == 1
    [fault] = capture.faults
    assert (fault.kind, fault.count) == ("error-frame", 3)


def test_times_and_numbers_count_from_the_first_frame_of_any_kind(tmp_path: Path) -> None:
    first = "\n(1699999999.750000) can0 123#00\n"
    last = "(1700000002.000000) can0 321#00\n"
    capture = read(tmp_path, first + GOOD + last)
    assert capture.frames is not None
    assert capture.start_unix_s == 1699999999.75
    assert capture.frames.time_s.tolist() == [0.25]
    assert capture.frames.number.tolist() == [3]
    assert capture.duration_s == 2.25


def test_times_before_the_year_2000_are_no_wall_clock(tmp_path: Path) -> None:
    capture = read(tmp_path, "(9.500000) can0 7E8#0341\n(10.500000) can0 7E8#0341\n")
    assert capture.start_unix_s is None
    assert capture.duration_s == 1.0
    assert "no wall clock" in capture.notes[0]


def test_nanoseconds_and_whole_seconds_are_times_too(tmp_path: Path) -> None:
    capture = read(tmp_path, "(1.000000001) can0 7E8#0341\n(2) can0 7E8#0341\n(3.5) can0 7E8#0341\n")
    assert capture.frames is not None
    assert capture.frames.time_s.tolist() == [0, 0.999999999, 2.499999999]


def test_two_interfaces_keep_apart_in_order_of_appearance(tmp_path: Path) -> None:
    names = ("can1", "can0", "can1", "slcan10")
    lines = [f"(1700000000.{row}00000) {name} 7E8#0341\n" for row, name in enumerate(names)]
    capture = read(tmp_path, "".join(lines))
    assert capture.frames is not None
    assert capture.frames.bus.tolist() == [0, 1, 0, 2]
    assert capture.notes == ("Several interfaces were recorded, whose modules are kept apart: can0, can1, slcan10.",)


def test_a_single_interface_is_no_news(tmp_path: Path) -> None:
    assert read(tmp_path, GOOD + LATER).notes == ()


def test_a_few_milliseconds_out_of_order_are_put_in_order(tmp_path: Path) -> None:
    early = "(1700000000.491000) can1 7E9#0341\n"
    capture = read(tmp_path, GOOD + LATER + early)
    assert capture.frames is not None
    assert capture.frames.number.tolist() == [1, 3, 2]
    assert any("out of order" in note for note in capture.notes)


@pytest.mark.parametrize(
    "text",
    [
        GOOD + LATER + "(1700000000.489000) can0 7E8#0341\n",
        GOOD + "(1700000000.200000) can0 123#00\n" + "(1699999999.900000) can0 123#00\n",
    ],
)
def test_time_going_backwards_is_an_error_with_its_line(tmp_path: Path, text: str) -> None:
    with pytest.raises(CaptureError, match=r"line 3: time goes backwards"):
        read(tmp_path, text)


def test_gzipped_and_cut_short(tmp_path: Path) -> None:
    lines = "".join(f"(1700000{row:03}.000000) can0 7E8#03410D{row * 7919 % 65536:04X}\n" for row in range(1000))
    path = tmp_path / "bus.log.gz"
    path.write_bytes(gzip.compress(lines.encode(), mtime=0))
    assert candump.read(path).total_frames == 1000
    path.write_bytes(gzip.compress(lines.encode(), mtime=0)[:-2000])
    cut = candump.read(path)
    assert 100 < cut.total_frames < 1000
    assert [fault.kind for fault in cut.faults] == ["truncated-file"]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("engine notes\nnothing else\n", "is no candump text"),
        ("  can0  7E8   [8]  03 41 0D 0A 00 00 00 00\n", "its lines carry no times.*record again with times"),
        (GOOD + "x" * 2_000_000, "has a line without end"),
    ],
)
def test_no_candump_text(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(CaptureError, match=message):
        read(tmp_path, text)


def test_lines_that_end_by_returns_alone_are_said(tmp_path: Path) -> None:
    with pytest.raises(CaptureError, match="ends its lines by returns alone"):
        read(tmp_path, (GOOD + LATER).replace("\n", "\r"))


def test_a_log_of_many_blocks_loses_no_line(tmp_path: Path) -> None:
    """Some 3 MB: every tenth line is kept, and each is there, with its number and its own value."""
    lines = [
        f"(17000{row // 1000:05}.{row % 1000:03}000) can0 {'7E8' if row % 10 == 9 else '1A0'}#{row:08X}\n"
        for row in range(80_000)
    ]
    capture = read(tmp_path, "".join(lines))
    assert capture.frames is not None
    rows = np.arange(9, 80_000, 10)
    assert capture.total_frames == 80_000
    assert capture.frames.number.tolist() == (rows + 1).tolist()
    assert capture.frames.data[:, :4].copy().view(">u4").ravel().tolist() == rows.tolist()
    assert np.allclose(capture.frames.time_s, rows / 1000, atol=1e-9)


def test_no_diagnostic_frame_is_left_to_others_to_judge(tmp_path: Path) -> None:
    capture = read(tmp_path, "(1700000000.000000) can0 123#00\n")
    assert capture.total_frames == 1
    assert seen(capture.frames) == []


def test_python_cans_own_writer(tmp_path: Path) -> None:
    path = write(tmp_path / "bus.log", [answer(row / 10, row) for row in range(20)])
    assert [frame[3][3] for frame in seen(candump.read(path).frames)] == list(range(20))


def test_usual_lines_need_no_look_one_by_one() -> None:
    """The fast path must not fall back in silence: usual lines fit at once, and skimming leaves those asked for."""
    lines = "".join(f"(1700000000.{row:06}) can0 {'7E8' if row == 50 else '0F3'}#{row:04X} R\n" for row in range(100))
    text = np.frombuffer(lines.encode(), np.uint8)
    desk = Desk(len(text))
    assert FORMS["log"].fit(block([text], np.arange(100), desk)).fits.all()
    unwanted = np.append(~KEEP_DIAGNOSTIC.mask(np.arange(0x800, dtype=np.uint32), np.zeros(0x800, np.bool_)), False)
    sifted = FORMS["log"].sift(text, unwanted, desk)
    assert (sifted.rows.tolist(), sifted.lines) == ([0, 50, 99], 100)
    assert sifted.text.tobytes() == b"".join(lines.encode().splitlines(keepends=True)[row] for row in (0, 50, 99))


@pytest.mark.parametrize("place", [0, 1, 2, 3, 4])
def test_a_damaged_line_stands_for_no_other(tmp_path: Path, place: int) -> None:
    """Wherever it is; nor do lines of another build, here of a longer interface, make those of the usual one odd."""
    usual = [f"(1700000000.{row:06}) {name} 123#0102\n" for row, name in enumerate(("can0", "vcan1") * 50)]
    for damaged in ("(17000x0000.000050) can0 123#0102\n", "(1700000000.000050) can0 123#01 2\n", "(17\n"):
        lines = [*usual[: place * 25], damaged, *usual[place * 25 :]]
        capture = read(tmp_path, "".join(lines))
        [fault] = capture.faults
        assert (capture.total_frames, fault.first_frame, fault.count) == (100, place * 25 + 1, 1)


@given(st.lists(st.booleans(), max_size=40))
def test_places_are_those_that_numpy_finds(found: list[bool]) -> None:
    mask = np.array(found, np.bool_)
    assert places(mask).tolist() == np.flatnonzero(mask).tolist()
    apart = np.kron(mask, np.arange(9) == 4).astype(np.bool_)
    assert places(apart).tolist() == np.flatnonzero(apart).tolist()
