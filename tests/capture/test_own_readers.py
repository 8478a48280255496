"""Our own readers of ASC, TRC, CSV, BLF, MF4 against python-can's, frame by frame, on files of its writers."""

from __future__ import annotations

import random
import re
import tempfile
from pathlib import Path

import can
import numpy as np
import pytest
from can.io.trc import TRCFileVersion
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from relearn.capture import blf, lines, load, mf4, pythoncan, skim_fields
from relearn.capture.assemble import MAX_11
from relearn.capture.keep import KEEP_DIAGNOSTIC, Keep
from relearn.capture.marks import I64, NEWLINE, U8, Mask
from relearn.capture.skim import Sifted
from relearn.capture.skim_fields import Dull
from tests.capture.both_ways import odd, outcome, slowly, told
from tests.capture.build import EVERY_11, START_S, write

ASKED_29 = frozenset({0x0CF00400, 0x1FFFFFFF, 0x20})
IDENTIFIERS = (0x000, 0x020, 0x123, 0x7DF, 0x7E8, 0x7EF, 0x7F0, 0x7FF, 0x18DAF110, 0x18DB33F1, *ASKED_29)
LAYOUTS = {
    "1.1": "{n:>6}) {ms:11.1f}  Rx {id} {length}  {data}",
    "1.3": "{n:>6}) {ms:11.3f} {bus}  Rx {id} -  {length}  {data}",
    "2.0": "{n:>7} {ms:13.3f} DT {id} Rx {length}  {data}",
}
COLUMNS = {"2.0": ";$COLUMNS=N,O,T,I,d,l,D\n"}


@st.composite
def messages(draw: st.DrawFn) -> list[can.Message]:
    """Rising milliseconds, three buses, all kinds of frames, most of them classic broadcast."""
    rng, made, time_ms = random.Random(draw(st.integers(0, 10**9))), [], 0
    for _ in range(draw(st.integers(1, 60))):
        kind, identifier = rng.random(), rng.choice(IDENTIFIERS)
        length = rng.choice((0, 1, 3, 7, 8, 8, 8))
        fd = kind < 0.08
        made.append(
            can.Message(
                timestamp=START_S + time_ms / 1000,
                arbitration_id=identifier,
                is_extended_id=identifier > 0x7FF or rng.random() < 0.1,
                is_fd=fd,
                is_rx=rng.random() < 0.7,
                is_remote_frame=0.08 <= kind < 0.12,
                is_error_frame=0.12 <= kind < 0.14,
                data=rng.randbytes(rng.choice((12, 64)) if fd and rng.random() < 0.5 else length),
                channel=rng.choice((0, 1, 2)),
            )
        )
        time_ms += rng.choice((0, 1, 20, 3000, 70_000))
    return made


KEEPS = st.sampled_from((KEEP_DIAGNOSTIC, Keep(EVERY_11, ASKED_29), Keep(frozenset({0x20}))))


@pytest.mark.parametrize("suffix", [".asc", ".trc", ".csv", ".blf", ".mf4"])
@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(made=messages(), keep=KEEPS)
def test_every_frame_is_what_python_can_reads(suffix: str, made: list[can.Message], keep: Keep) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = write(Path(folder) / f"bus{suffix}", made)
        assert told(outcome(load, path, keep)) == told(outcome(slowly, path, keep))


def as_trc(version: str, made: list[can.Message]) -> str:
    """By hand, as python-can writes 1.0 and 2.1 only; the columns as its reader of each version takes them."""
    head = f";$FILEVERSION={version}\n;$STARTTIME=45000.5\n{COLUMNS.get(version, '')};\n"
    rows = [
        LAYOUTS[version].format(
            n=row,
            ms=(message.timestamp - START_S) * 1000,
            id=f"{message.arbitration_id:08X}" if message.is_extended_id else f"{message.arbitration_id:04X}",
            bus=message.channel + 1,
            length=len(message.data),
            data=message.data.hex(" ").upper(),
        )
        for row, message in enumerate(made, 1)
    ]
    return head + "".join(row + "\n" for row in rows)


@pytest.mark.parametrize("version", LAYOUTS)
@settings(max_examples=15, deadline=None)
@given(made=messages(), keep=KEEPS)
def test_every_version_of_trc(version: str, made: list[can.Message], keep: Keep) -> None:
    made = [message for message in made if len(message.data) <= 8]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bus.trc"
        path.write_text(as_trc(version, made) + "     99     99 ER\n")
        assert told(outcome(load, path, keep)) == told(outcome(slowly, path, keep))


def test_trc_1_0_as_python_can_writes_it(tmp_path: Path) -> None:
    path = tmp_path / "bus.trc"
    writer = can.TRCWriter(path)
    writer.file_version = TRCFileVersion.V1_0
    for row in range(200):
        identifier = 0x7E8 if row % 9 == 0 else 0x100 + row
        writer(can.Message(timestamp=START_S + row, arbitration_id=identifier, is_extended_id=False, data=b"\1\2\3"))
    writer.stop()
    assert told(load(path)) == told(slowly(path, KEEP_DIAGNOSTIC))


@pytest.mark.parametrize("suffix", [".asc", ".trc", ".csv", ".blf"])
@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**9), keep=KEEPS)
def test_damage_changes_nothing_about_the_frames_kept(suffix: str, seed: int, keep: Keep) -> None:
    """A wrong character in the time of a line left out may go unnoticed; so no time is touched here, nor a header."""
    rng = random.Random(seed)
    made = [
        can.Message(
            timestamp=START_S, arbitration_id=rng.choice(IDENTIFIERS[:8]), is_extended_id=False,
            data=rng.randbytes(rng.choice((1, 8))), channel=0,
        )
        for _ in range(40)
    ]  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        path = write(Path(folder) / f"bus{suffix}", made)
        content = bytearray(path.read_bytes())
        first = len(content) // 2
        for _ in range(rng.randrange(4)):
            place = rng.randrange(first, len(content))
            here = content.rfind(b"\n", 0, place)
            if suffix == ".blf" or place - here > 24:
                content[place : place + 1] = bytes((rng.choice(b"07AFx =,\tz\xff\n"),)) * rng.choice((0, 1, 2))
        path.write_bytes(content)
        assert told(outcome(load, path, keep)) == told(outcome(slowly, path, keep))


@pytest.mark.parametrize("suffix", [".asc", ".trc", ".csv"])
def test_usual_lines_do_not_reach_python_can(tmp_path: Path, suffix: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The fast way must not fall back in silence: after the first, no line is given to python-can's reader."""
    seen: list[int] = []
    original = lines.Lines.answered
    monkeypatch.setattr(
        lines.Lines, "answered", lambda self, reader: seen.append(number := original(self, reader)) or number
    )
    made = [
        can.Message(
            timestamp=START_S + row / 100, arbitration_id=0x7E8 if row % 7 == 0 else 0x20 + row, is_extended_id=False,
            data=bytes(range(row % 8 + 1)), channel=0,
        )
        for row in range(300)
    ]  # fmt: skip
    capture = load(write(tmp_path / f"bus{suffix}", made))
    assert (capture.total_frames, len(seen)) == (300, 1)


def test_usual_objects_and_groups_do_not_reach_python_can(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made = [can.Message(timestamp=START_S + row, arbitration_id=0x7E8, data=b"\1", channel=0) for row in range(1, 50)]
    made += [can.Message(timestamp=START_S + 60, is_fd=True, is_extended_id=False, data=bytes(12), channel=1)]
    monkeypatch.setattr(pythoncan, "read_binary", odd)
    monkeypatch.setattr(mf4, "read_binary", odd)
    assert blf.read(write(tmp_path / "bus.blf", made)).total_frames == 50
    assert mf4.read(write(tmp_path / "bus.mf4", made)).total_frames == 50


def test_a_signature_inside_an_object_of_a_blf(tmp_path: Path) -> None:
    made = [can.Message(timestamp=START_S, arbitration_id=0x7E8, is_extended_id=False, data=b"LOBJLOBJ", channel=0)] * 9
    path = write(tmp_path / "bus.blf", made)
    frames = load(path).frames
    assert frames is not None
    assert np.all(frames.data == np.frombuffer(b"LOBJLOBJ", np.uint8))
    assert told(load(path)) == told(slowly(path, KEEP_DIAGNOSTIC))


@pytest.mark.parametrize("suffix", [".asc", ".trc", ".csv"])
def test_dull_lines_are_skimmed_over(tmp_path: Path, suffix: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor may skimming fall back in silence: of lines nobody asked for, the first and the last are read with care."""
    left: list[int] = []
    original = lines.without_dull_lines

    def counted(text: U8, newline: I64, dull: Dull, unwanted_11: Mask, known: list[re.Match[bytes]]) -> Sifted:
        found = original(text, newline, dull, unwanted_11, known)
        left.append(len(found.rows))
        return found

    monkeypatch.setattr(lines, "without_dull_lines", counted)
    made = [
        can.Message(
            timestamp=START_S + 100.5 + row / 1000, arbitration_id=0x7E8 if row % 50 == 0 else 0x100 + row,
            is_extended_id=False, data=bytes(range(row % 8 + 1)), channel=0,
        )
        for row in range(400)
    ]  # fmt: skip
    assert load(write(tmp_path / f"bus{suffix}", made)).total_frames == 400
    assert 0 < left[0] < 60


@pytest.mark.parametrize(
    ("block", "decimals"),
    [
        ({6: 9, 5: 3}, [6, 5]),
        ({6: 2, 5: 3, 4: 1}, [5, 6, 4]),
        ({5: 3}, [5]),
        ({1: 5, 2: 6, 3: 7, 4: 8, 5: 9, 6: 1}, [5, 4, 3, 2]),
    ],
)
def test_a_block_begins_with_the_commonest_examples_of_the_one_before(
    block: dict[int, int], decimals: list[int]
) -> None:
    """One that came no more is forgotten, and there is always room for one that is new."""
    known: list[re.Match[bytes]] = []
    for counts in ({6: 1, 5: 1}, block):
        text = np.frombuffer(
            b"".join(b"1.%s,0x123,0,0,0,1,AA==\n" % (b"5" * one) * counts[one] for one in counts), np.uint8
        )
        skim_fields.without_dull_lines(
            text, np.flatnonzero(text == NEWLINE), skim_fields.CSV, np.ones(MAX_11 + 2, np.bool_), known
        )
    assert [len(example["number_"]) for example in known] == decimals


@pytest.mark.parametrize("suffix", [".asc", ".trc", ".csv"])
def test_returns_alone_end_lines_too(tmp_path: Path, suffix: str) -> None:
    """As a text file of Python has it; longer than a block, and with the break between two blocks anywhere."""
    made = [
        can.Message(
            timestamp=START_S + row / 100, arbitration_id=0x7E8 if row % 50 == 0 else 0x120, is_extended_id=False,
            data=bytes(range(row % 9)), channel=0,
        )
        for row in range(1200)
    ]  # fmt: skip
    plain, old = write(tmp_path / f"bus{suffix}", made), tmp_path / f"old{suffix}"
    old.write_bytes(plain.read_bytes().replace(b"\r\n", b"\n").replace(b"\n", b"\r"))
    for size in (4096, 4097, 5000):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(lines, "BLOCK_BYTES", size)
            assert told(load(old)) == told(load(plain))


@pytest.mark.parametrize(("suffix", "behind_time"), [(".asc", 14), (".trc", 24), (".csv", 15)])
@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10**9))
def test_a_damaged_line_stands_for_no_other(suffix: str, behind_time: int, seed: int) -> None:
    """In small blocks, where the damaged line is often the one that would be the example."""
    rng = random.Random(seed)
    made = [
        can.Message(
            timestamp=START_S + row / 8, arbitration_id=rng.choice((0x123, 0x7E8)), is_extended_id=False,
            data=b"\1\2\3", channel=0,
        )
        for row in range(60)
    ]  # fmt: skip
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setattr(lines, "BLOCK_BYTES", rng.choice((1000, 1500, 2500)))
        path = write(Path(folder) / f"bus{suffix}", made)
        content = path.read_text().splitlines(keepends=True)
        for row in rng.sample(range(len(content) - 50, len(content) - 1), 20):
            place = rng.randrange(behind_time, len(content[row]) - 1)
            content[row] = content[row][:place] + rng.choice("xG, .-") + content[row][place + 1 :]
        path.write_text("".join(content))
        assert told(outcome(load, path, KEEP_DIAGNOSTIC)) == told(outcome(slowly, path, KEEP_DIAGNOSTIC))
