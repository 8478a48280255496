"""Recorded frames put on a bus as they were: their order and their gaps, and nothing that could change anything.

A frame under a tester's identifier that is neither a reading question nor flow control is left out (`Recorded`), and so
are those of a capture's further interfaces, which were on another bus.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from relearn.bus.frame import Frame
from relearn.bus.serve import LOOK_S, alone, never
from relearn.bus.speech import Recorded
from relearn.bus.wire import Line
from relearn.capture.frames import Capture, Frames
from relearn.capture.keep import Keep, is_request
from relearn.errors import BusError, CaptureError


class _Everything(Keep):
    """Keeps every frame, whatever its identifier."""

    def mask(self, identifier: NDArray[np.uint32], extended: NDArray[np.bool_]) -> NDArray[np.bool_]:
        return np.ones(len(identifier), np.bool_)


KEEP_EVERYTHING = _Everything()


@dataclass(frozen=True, eq=False)
class Score:
    """What a replay will say. frames: in time order. left_out: plain sentences with how many and why."""

    frames: Frames
    left_out: tuple[str, ...]

    def said(self) -> Iterator[Recorded]:
        """Frame after frame; times are seconds from the capture's start."""
        return (Recorded(_frame(self.frames, row)) for row in range(len(self.frames)))


def score(capture: Capture, from_s: float = 0.0) -> Score:
    """The frames from `from_s` on that may be said. CaptureError: a table of values, or none is left."""
    if capture.frames is None:
        raise CaptureError(
            "this is a table of values, not of frames", path=capture.path, remedy="give a capture of CAN frames"
        )
    frames = capture.frames.take(capture.frames.time_s >= from_s)
    here = frames.take(frames.bus == 0)
    refused = _refused(here)
    kept = here.take(~np.isin(np.arange(len(here)), list(refused)))
    if not len(kept):
        raise CaptureError(
            f"nothing in it from {from_s:g} s on can be replayed", path=capture.path, remedy="choose an earlier --from"
        )
    return Score(kept, tuple(_left_out(len(frames) - len(here), refused)))


def replay(line: Line, score: Score, from_s: float, speed: float, stopped: Callable[[], bool] = never) -> int:
    """Say the frames at their times, `speed` times as fast, until the last or until somebody stops it; how many.

    BusError: another module speaks on the bus, or the adapter is gone.
    """
    begin_s, number = line.clock.now_s(), 0
    for recorded in score.said():
        _wait(line, begin_s + (recorded.frame.time_s - from_s) / speed, stopped)
        if stopped():
            break
        line.say(recorded)
        number += 1
    return number


def _wait(line: Line, until_s: float, stopped: Callable[[], bool]) -> None:
    """Let the time come, with an ear on the bus."""
    going = True
    while going:
        frame = line.hear(min(until_s, line.clock.now_s() + LOOK_S))
        if frame is not None:
            alone(frame)
        going = line.clock.now_s() < until_s and not stopped()


def _refused(frames: Frames) -> dict[int, str]:
    """Rows that `Recorded` refuses, with its reason: only a tester's frames can be among them."""
    reasons: dict[int, str] = {}
    for row in np.flatnonzero(is_request(frames.identifier, frames.extended)).tolist():
        try:
            Recorded(_frame(frames, row))
        except BusError as refused:
            reasons[row] = refused.what
    return reasons


def _left_out(of_others: int, refused: dict[int, str]) -> Iterator[str]:
    if refused:
        yield f"{_frames(len(refused))} left out; the first: {next(iter(refused.values()))}"
    if of_others:
        yield f"{_frames(of_others)} left out: recorded on another interface"


def _frames(count: int) -> str:
    return "1 frame is" if count == 1 else f"{count} frames are"


def _frame(frames: Frames, row: int) -> Frame:
    data = frames.data[row, : frames.length[row]].tobytes()
    return Frame(float(frames.time_s[row]), int(frames.identifier[row]), bool(frames.extended[row]), data)
