"""A file read by our own readers and by python-can's, so that the two can be held against each other."""

from __future__ import annotations

from dataclasses import astuple
from pathlib import Path

import pytest

from relearn.capture import Capture, lines, load, mf4, pythoncan
from relearn.capture.keep import Keep
from relearn.capture.odd import Odd
from relearn.errors import CaptureError


def slowly(path: Path, keep: Keep) -> Capture:
    """The same file with every line or object through python-can's reader."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(lines, "layout", lambda reader: None)
        patch.setattr(mf4, "_by_columns", odd)
        reader = pythoncan.read_blf if path.suffix == ".blf" else load
        return reader(path, keep)


def odd(*_: object) -> Capture:
    raise Odd


def told(capture: Capture | str) -> object:
    """Everything in a capture, comparable."""
    if isinstance(capture, str):
        return capture
    frames = capture.frames
    assert frames is not None
    columns = [
        getattr(frames, name).tolist() for name in ("time_s", "number", "bus", "identifier", "extended", "length")
    ]
    data = frames.data[:, : int(frames.length.max(initial=0))].tolist()
    faults = [astuple(fault) for fault in capture.faults]
    return capture.total_frames, capture.start_unix_s, capture.duration_s, columns, data, faults, capture.notes


def outcome(read: object, path: Path, keep: Keep) -> Capture | str:
    assert callable(read)
    try:
        found: Capture = read(path, keep)
    except CaptureError as error:
        return str(error)
    return found
