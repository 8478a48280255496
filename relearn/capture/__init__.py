"""Recorded files become a Capture: frames as columns, or a table of decoded values. One reader per suffix."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from pathlib import Path

from relearn.capture import candump, files
from relearn.capture.files import hashing, sha256
from relearn.capture.frames import Capture, Column, Frames, Table
from relearn.capture.keep import KEEP_DIAGNOSTIC, Keep
from relearn.errors import CaptureError

__all__ = ["READERS", "Capture", "Column", "Frames", "Keep", "Table", "hashing", "load", "sha256"]

Reader = Callable[[Path, Keep], Capture]


def _late(module: str, name: str) -> Reader:
    """A reader whose module takes long to import (python-can, pandas), so only when it is needed."""

    def read(path: Path, keep: Keep) -> Capture:
        reader: Reader = getattr(importlib.import_module(f"relearn.capture.{module}"), name)
        return reader(path, keep)

    return read


def _read_csv(path: Path, keep: Keep) -> Capture:
    """A CSV of frames as python-can writes it, or else a table of decoded values."""
    frames = files.first_line(path).replace(" ", "").startswith("timestamp,arbitration_id,")
    return (_late("pythoncan", "read_csv") if frames else _late("tables", "read"))(path, keep)


READERS: dict[str, Reader] = {
    ".log": candump.read,
    ".txt": candump.read,
    ".csv": _read_csv,
    ".asc": _late("pythoncan", "read_asc"),
    ".blf": _late("blf", "read"),
    ".trc": _late("pythoncan", "read_trc"),
    ".mf4": _late("mf4", "read"),
    ".db": _late("pythoncan", "read_sqlite"),
}
NOT_GZIPPED = frozenset({".db"})  # SQLite needs the file itself


def load(path: Path, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    """Read a capture by its suffix (one of READERS, each but .db also with .gz behind it).

    keep: which frames stay. A table of decoded values has no frames, and everything in it stays.
    CaptureError: the file cannot be used; says why, where, and what to do. A capture without a single diagnostic frame
    is returned like any other: whether that will do is for the caller to judge.
    """
    files.check(path)
    suffix = files.format_suffix(path)
    if suffix not in READERS:
        raise CaptureError(
            f"has the suffix '{suffix}', which names no format of a capture",
            path=path,
            remedy=f"use one of {', '.join(READERS)}, or the same with .gz",
        )
    if suffix in NOT_GZIPPED and files.is_gzipped(path):
        raise CaptureError(f"is a {suffix} file, which cannot be read gzipped", path=path, remedy="unpack it first")
    return READERS[suffix](path, keep)
