"""Files that nobody writes and somebody has: each is read as python-can's own reader reads it, line by line."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from relearn.capture import candump, load
from relearn.capture.keep import KEEP_DIAGNOSTIC
from tests.capture.both_ways import slowly, told
from tests.capture.build import seen

TRC = ";$FILEVERSION=1.1\n;$STARTTIME=45000.5\n;\n"
TRC_FRAME = "     1)         1.0  Rx  07E8  2  01 02\n"
ASC = "date Mon Jun 1 08:00:00.000 am 2026\nbase hex  timestamps absolute\nno internal events logged\n"
ASC_FRAME = "   1.000000 1  7E8             Rx   d 2 01 02\n"
CSV = "timestamp,arbitration_id,extended,remote,error,dlc,data\n"
CSV_FRAME = "1.0,0x7e8,0,0,0,1,AA==\n"
LONG = "1." + "0" * 700


@pytest.mark.parametrize(
    ("suffix", "text"),
    [
        (".trc", TRC + TRC_FRAME + "\n\n\n"),
        (".asc", ASC + ASC_FRAME + "\n\n\n"),
        (".csv", CSV + CSV_FRAME * 2 + f"{LONG},0x123,0,0,0,1,AA==\n" * 3 + "1.0,0x123,0,0,0,1,AA==\n"),
        (".asc", ASC + ASC_FRAME + f"   {LONG} 1  123             Rx   d 1 01\n" * 3),
        (".trc", TRC + TRC_FRAME + ";2)        12.5  Rx  07E8  1  01\n"),
        (".trc", TRC + TRC_FRAME + "1\u00a05     12.5  Rx  07E8  1  01\n" + TRC_FRAME),
        (".trc", ";$FILEVERSION=1.1\n;$COLUMNS=N,O,T,I,d,l,D\n" + TRC_FRAME + "     2)  2.0  Rx  07E8  3  01 02 03\n"),
        (".csv", CSV + "".join(f"{time},0x123,0,0,0,1,AA==\n" for time in ("1.0", "abc", "3..0", "", "9", "-1.0"))),
        (".csv", CSV + CSV_FRAME + "2.0,0x7e8,0,0,0,1,AB==\n" + "3.0,0x7e8,0,0,0,8,AQIDBAUGBwg=\n"),
        (".trc", TRC + "\n" * 3000 + TRC_FRAME),
    ],
    ids=[
        "blank-trc", "blank-asc", "long-csv", "long-asc", "comment", "blank-beyond-ascii", "columns-of-another-version",
        "times", "bits-to-spare", "blank-before-the-first",
    ],
)  # fmt: skip
def test_an_odd_file_is_read_as_line_by_line(suffix: str, text: str, tmp_path: Path) -> None:
    path = tmp_path / f"odd{suffix}"
    path.write_text(text, encoding="utf-8", newline="")
    assert told(load(path)) == told(slowly(path, KEEP_DIAGNOSTIC))


def test_the_last_second_of_candump_is_one_to_both_its_readers(tmp_path: Path) -> None:
    path = tmp_path / "late.log"
    path.write_text("(9000000000.5) can0 7E8#0102\n(9000000000.5) can0 7E8#0102  R\n", encoding="ascii")
    capture = candump.read(path)
    assert (len(seen(capture.frames)), capture.faults) == (2, ())


def test_only_interfaces_of_kept_frames_are_told(tmp_path: Path) -> None:
    """Which of the others are met depends on where a block ends."""
    path = tmp_path / "two.log"
    lines = [f"({row}.0) can{row % 2} {'123' if row % 2 else '7E8'}#0102\n" for row in range(9)]
    path.write_text("".join(lines), encoding="ascii")
    assert candump.read(path).notes[:-1] == ()
    path.write_text("".join(lines).replace("123", "7E9"), encoding="ascii")
    capture = candump.read(path)
    assert capture.notes[0].endswith("kept apart: can0, can1.")
    assert capture.frames is not None and np.unique(capture.frames.bus).tolist() == [0, 1]
