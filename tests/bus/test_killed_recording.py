"""SIGKILL at 50 random moments of a recording in real time loses nothing older than one second."""

from __future__ import annotations

import multiprocessing
import random
import time
from contextlib import suppress
from multiprocessing.connection import Connection
from multiprocessing.context import ForkServerContext
from pathlib import Path

import pytest

from relearn.capture import load
from tests.bus.killed import record

KILLS, LOST_S = 50, 1.0
MOMENTS_S = (0.05, 6.5)  # while it listens, looks who is there, and polls
Told = list[tuple[int, float]]

pytestmark = pytest.mark.skipif(
    "forkserver" not in multiprocessing.get_all_start_methods(), reason="50 processes are too slow to start here"
)


def told_by(reader: Connection) -> Told:
    """What a process said until it was killed, in the middle of a word maybe."""
    told: Told = []
    with suppress(EOFError, OSError):
        while True:
            told.append(reader.recv())
    return told


def killed(folder: Path, moments_s: list[float]) -> list[tuple[Path, Told]]:
    """Recordings made at the same time, each killed at its own moment after all have begun."""
    context: ForkServerContext = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.bus.killed"])
    made = []
    for number, moment_s in enumerate(moments_s):
        reader, writer = context.Pipe(duplex=False)
        path = folder / f"{number}.log"
        process = context.Process(target=record, args=(path, writer), daemon=True)
        process.start()
        writer.close()
        made.append((moment_s, process, path, reader))
    assert all(reader.poll(60.0) for _, _, _, reader in made)
    began_s = time.monotonic()
    for moment_s, process, _, _ in sorted(made, key=lambda one: one[0]):
        time.sleep(max(began_s + moment_s - time.monotonic(), 0.0))
        process.kill()
    for _, process, _, _ in made:
        process.join()
    return [(path, told_by(reader)) for _, _, path, reader in made]


def test_nothing_older_than_a_second_is_lost(tmp_path: Path) -> None:
    moments_s = [random.Random(f"kill {number}").uniform(*MOMENTS_S) for number in range(KILLS)]
    needed = 0
    for path, told in killed(tmp_path, moments_s):
        _, last_s = told[-1]
        safe = max((frames for frames, now_s in told if now_s <= last_s - LOST_S), default=0)
        text = path.read_bytes()
        lines = text.count(b"\n")
        assert lines >= safe, f"{path.name}: {safe} frames were older than a second, {lines} are there"
        assert text.endswith(b"\n") or not text, "a line is written whole"
        if lines:
            capture = load(path)
            assert capture.faults == ()
            assert capture.total_frames == lines
            assert capture.frames is not None and (capture.frames.number == range(1, lines + 1)).all()
        needed += safe
    assert needed > KILLS * 10, "the recordings were long enough to lose something"
