"""An hour of recording at full pace, in counted time: memory stays flat."""

from __future__ import annotations

import gc
import sys
from pathlib import Path

import pytest

from relearn.bus import log
from relearn.bus.window import KEEP_S
from relearn.recording import live
from tests.bus.simulated import START_S
from tests.bus.steady import Recorded

MINUTE_S = 60.0
FULL_S = KEEP_S + MINUTE_S  # from then on the window drops as much as it takes


def test_an_hour_takes_no_more_memory_than_its_first_quarter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Counted are the interpreter's allocated blocks and the window's frames, which no other process disturbs."""
    monkeypatch.setattr(log, "sync", lambda descriptor: None)  # an hour of waiting for a disk tells nothing here
    made = Recorded(tmp_path / "a.log")
    sizes: list[tuple[int, int]] = []
    for minute in range(1, 61):
        made.go(minute * MINUTE_S)
        made.bus.sent.clear()  # what the pretend bus itself remembers
        if minute * MINUTE_S >= FULL_S and minute % 5 == 0:
            sizes.append(size(made))
    made.session.close()
    assert made.kinds == ["answering"]
    (blocks, window), *later = sizes
    assert all(abs(one - blocks) < 0.01 * blocks for one, _ in later), sizes
    assert all(abs(one - window) < 0.02 * window for _, one in later), sizes
    assert made.clock.now_s() > START_S + 3600.0
    assert len(made.path.read_bytes().splitlines()) == made.session.status().frames


def size(made: Recorded) -> tuple[int, int]:
    """Allocated blocks, and how many frames are judged."""
    capture = made.session.capture()
    assert capture.frames is not None
    window = len(capture.frames)
    assert live(capture).identity, "who it is was asked long before the window begins"
    del capture
    gc.collect()
    return sys.getallocatedblocks(), window
