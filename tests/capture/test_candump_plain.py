"""The plain form (`candump -t a`). Source of its layout: can-utils, candump.c and lib.c (sprint_long_canframe).

python-can cannot read this form, so the lines are printed here from messages and compared with those.
"""

from __future__ import annotations

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
from relearn.capture.marks import Desk, block
from relearn.errors import CaptureError
from tests.capture.build import keep_all, seen
from tests.capture.test_candump_log import messages

GOOD = " (1700000000.000000)  can0  7E8   [8]  03 41 0D 0A AA AA AA AA\n"
LATER = " (1700000000.500000)  can0  7E8   [8]  03 41 0D 0B AA AA AA AA\n"


def read(folder: Path, text: str, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    path = folder / "bus.txt"
    path.write_text(text)
    return candump.read(path, keep)


def printed(message: can.Message, *, extra: bool, characters: bool, indent: bool) -> str:
    """One message as candump prints it: with `-x`, with `-a`, with 11-bit identifiers indented beside 29-bit ones."""
    time_us = round(message.timestamp * 1e6)
    digits = f"{message.arbitration_id:08X}" if message.is_extended_id else f"{message.arbitration_id:03X}"
    direction = f"  {'RX' if message.is_rx else 'TX'} - -" if extra else ""
    length = f"[{len(message.data):02}] " if message.is_fd else f" [{message.dlc}] "
    line = f" ({time_us // 1_000_000:010}.{time_us % 1_000_000:06})  {message.channel:>5}{direction}  "
    line += f"{digits:>8}  {length}" if indent else f"{digits}  {length}"
    if message.is_remote_frame:
        return line + " remote request\n"
    line += "".join(f" {byte:02X}" for byte in message.data)
    if characters and len(message.data) <= 8:
        text = "".join(chr(byte) if 0x1F < byte < 0x7F else "." for byte in message.data)
        line += "'".rjust(3 * (8 - len(message.data)) + 4) + text + "'"
    return line + "\n"


@settings(max_examples=60, deadline=None)
@given(messages(), st.booleans(), st.booleans(), st.sampled_from((500, 1 << 20)))
def test_every_frame_is_what_was_printed(made: list[can.Message], extra: bool, characters: bool, block: int) -> None:
    indent = any(message.is_extended_id for message in made)
    text = "".join(printed(message, extra=extra, characters=characters, indent=indent) for message in made)
    keep = keep_all(message.arbitration_id for message in made if message.is_extended_id)
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setattr(candump, "BLOCK_BYTES", block)
        capture = read(Path(folder), text, keep)
    kept = [message for message in made if not message.is_remote_frame]
    assert capture.faults == ()
    assert capture.total_frames == len(made)
    assert [frame[1:] for frame in seen(capture.frames)] == [
        (message.arbitration_id, message.is_extended_id, bytes(message.data)) for message in kept
    ]
    assert [frame[0] for frame in seen(capture.frames)] == pytest.approx(
        [message.timestamp - made[0].timestamp for message in kept], abs=1e-6
    )


@pytest.mark.parametrize(
    "line",
    [
        " (1700000000.100000)  can0  7E8   [8]  03 41 0D 0A AA AA AA",
        " (1700000000.100000)  can0  7E8   [2]  03 41 0D",
        " (1700000000.100000)  can0  7E8   [3]  03 4 10D",
        " (1700000000.100000)  can0  7E8   [9]  03 41 0D 0A AA AA AA AA AA",
        " (1700000000.100000)  can0  7E8  [09]  03 41 0D 0A AA AA AA AA AA",
        " (1700000000.100000)  can0  7E8   [2]  41`03",
        " (1700000000.100000)  can0  7E8   [1]  01000001",
        " (1700000000.100000)  can0  8E8   [2]  03 41",
        " (1700000000.100000)  can0  7E8   [2]  03 4G",
        " (1700000000.100000)  can0  7E8   [",
        " (1700000000.1)  can0  7E (1700000000.2)  can0  7E8   [2]  03 41",
        "   can0  7E8   [2]  03 41",
    ],
)
def test_a_malformed_line_is_counted_and_gives_no_frame(tmp_path: Path, line: str) -> None:
    """Among them what `-S` (bytes swapped) and `-i` (binary digits) would print."""
    capture = read(tmp_path, f"{GOOD}{line}\n{LATER}")
    assert [frame[3][3] for frame in seen(capture.frames)] == [0x0A, 0x0B]
    [fault] = capture.faults
    assert (fault.kind, fault.first_frame) == ("malformed-line", 2)


def test_an_error_frame_and_its_explanation_are_no_malformed_lines(tmp_path: Path) -> None:
    error = " (1700000000.100000)  can0  20000080   [8]  00 00 00 00 00 00 00 00   ERRORFRAME\n\tbus-error\n"
    capture = read(tmp_path, GOOD + error + LATER)
    [fault] = capture.faults
    assert (fault.kind, fault.count) == ("error-frame", 1)
    assert capture.total_frames == 3


def test_frames_the_recorder_missed_are_a_fault_of_their_own(tmp_path: Path) -> None:
    missed = "DROPCOUNT: dropped 12 CAN frames on 'can0' socket (total drops 12)\n"
    [fault] = read(tmp_path, GOOD + missed + LATER).faults
    assert (fault.kind, fault.count) == ("dropped-frames", 12)


def test_a_cut_off_last_line_is_its_own_fault(tmp_path: Path) -> None:
    [fault] = read(tmp_path, GOOD + LATER[:-5]).faults
    assert (fault.kind, fault.first_frame) == ("truncated-last-line", 2)


def test_dates_are_local_times(tmp_path: Path) -> None:
    """`candump -t A` prints this computer's local time."""
    lines = [f" (2030-05-01 12:00:0{second}.250000)  can0  7E8   [2]  03 41\n" for second in (1, 3)]
    capture = read(tmp_path, "".join(lines))
    assert capture.duration_s == 2.0
    assert capture.start_unix_s is not None


def test_differences_from_line_to_line_are_refused(tmp_path: Path) -> None:
    """`candump -t d`; taken as times they would make a drive of milliseconds."""
    steps = (0, 310, 120, 990, 15, 400, 22)
    lines = [f" (000.{step:06})  can0  7E8   [2]  03 41\n" for step in steps]
    with pytest.raises(CaptureError, match="from line to line"):
        read(tmp_path, "".join(lines))


def test_usual_lines_need_no_look_one_by_one() -> None:
    made = [
        can.Message(
            timestamp=row,
            arbitration_id=0x18DAF110 if row % 2 else 0x7E8,
            is_extended_id=bool(row % 2),
            is_fd=row % 3 == 0,
            data=bytes(row % 8 + 1),
            channel="can0",
        )
        for row in range(24)
    ]
    text = "".join(
        printed(message, extra=row > 12, characters=row % 5 > 2, indent=True) for row, message in enumerate(made)
    ).encode()
    assert FORMS["plain"].fit(block([np.frombuffer(text, np.uint8)], np.arange(24), Desk(len(text)))).fits.all()
