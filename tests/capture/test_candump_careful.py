"""Looking at all lines at once against reading each on its own, on logs with bytes changed at random."""

from __future__ import annotations

import random
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import can
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from relearn.capture import Capture, candump
from relearn.capture.assemble import MAX_29
from relearn.capture.candump_forms import FORMS, Form, Line
from relearn.capture.keep import is_diagnostic
from relearn.capture.marks import U8, Desk, Mask
from relearn.capture.skim import Sifted, every_line, without_dull_lines
from relearn.errors import CaptureError
from tests.capture.build import seen
from tests.capture.test_candump_plain import printed

Sift = Callable[[U8, Mask, Desk], Sifted]
IDENTIFIERS = (0x7E8, 0x7DF, 0x7F1, 0x123, 0x18DAF110, 0x18DB33F1, 0x0CF00400)


def lines(form: str, rng: random.Random) -> list[bytes]:
    """Twenty usual lines, all at one time so that no change of a time matters to their order."""
    made = [
        can.Message(
            timestamp=1_700_000_000.5,
            arbitration_id=rng.choice(IDENTIFIERS),
            is_fd=rng.random() < 0.1,
            data=rng.randbytes(rng.choice((0, 1, 3, 8))),
            channel=rng.choice(("can0", "vcan1")),
        )
        for _ in range(20)
    ]
    for message in made:
        message.is_extended_id = message.arbitration_id > 0x7FF
    if form == "plain":
        return [
            printed(message, extra=rng.random() < 0.2, characters=rng.random() < 0.2, indent=True).encode()
            for message in made
        ]
    return [
        b"(1700000000.500000) %s %s#%s%s\n"
        % (
            message.channel.encode(),
            b"%08X" % message.arbitration_id if message.is_extended_id else b"%03X" % message.arbitration_id,
            b"#1" if message.is_fd else b"",
            message.data.hex().encode(),
        )
        for message in made
    ]


def damaged(text: bytes, rng: random.Random) -> bytes:
    """A few bytes changed, put in or taken out, mostly for others that such lines hold."""
    changed = bytearray(text)
    for _ in range(rng.randrange(6)):
        place, byte = rng.randrange(len(changed)), rng.choice(b"07#()[] .\nRT\r'xz\xff\0")
        changed[place : place + rng.choice((0, 1, 1, 1, 5))] = bytes((byte,)) * rng.choice((0, 1, 1, 2))
    return bytes(changed)


def one_by_one(form: Form, text: bytes) -> tuple[list[Line], int, int]:
    """Frames to be kept, frames of any kind, malformed lines (with an unfinished one)."""
    read = [(form.read_line(line), line) for line in text.split(b"\n")]
    found = [line for line, _ in read if line]
    malformed = sum(line is None and not form.skips.fullmatch(text) for line, text in read)
    return (
        [
            line
            for line in found
            if line.data is not None and line.identifier <= MAX_29 and is_diagnostic(line.identifier, line.extended)
        ],
        len(found),
        malformed,
    )


def capture_of(text: bytes, name: str, block_bytes: int, sift: Sift) -> Capture:
    """Read with blocks of a size and a way to leave lines out; discards the example if a time was changed."""
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setattr(candump, "BLOCK_BYTES", block_bytes)
        patch.setitem(FORMS, name, replace(FORMS[name], sift=sift))
        path = Path(folder) / "bus.log"
        path.write_bytes(text)
        try:
            return candump.read(path)
        except CaptureError as error:
            assume("time" not in error.what)
            raise


def malformed_lines(capture: Capture) -> int:
    return sum(fault.count for fault in capture.faults if "line" in fault.kind)


def kept_frames(capture: Capture) -> list[tuple[int, bool, bytes]]:
    return sorted(frame[1:] for frame in seen(capture.frames))


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(("log", "plain")), st.integers(0, 10**9), st.sampled_from((2000, 1 << 20)))
def test_all_at_once_is_the_same_as_one_by_one(name: str, seed: int, block_bytes: int) -> None:
    rng = random.Random(seed)
    text = damaged(b"".join(lines(name, rng)), rng)
    kept, frames, malformed = one_by_one(FORMS[name], text)
    capture = capture_of(text, name, block_bytes, every_line)
    assert (capture.total_frames, malformed_lines(capture)) == (frames, malformed)
    assert kept_frames(capture) == sorted((line.identifier, line.extended, line.data) for line in kept)


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 10**9), st.sampled_from((2000, 1 << 20)))
def test_leaving_lines_out_changes_nothing_about_those_kept(seed: int, block_bytes: int) -> None:
    """Nor can it find more malformed lines; and it misses none whose marks are not as many as they should be."""
    rng = random.Random(seed)
    text = damaged(b"".join(lines("log", rng)), rng)
    whole = capture_of(text, "log", block_bytes, every_line)
    skimmed = capture_of(text, "log", block_bytes, without_dull_lines)
    assert kept_frames(skimmed) == kept_frames(whole)
    assert malformed_lines(skimmed) <= malformed_lines(whole)
    assert skimmed.total_frames + malformed_lines(skimmed) == whole.total_frames + malformed_lines(whole)
