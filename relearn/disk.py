"""Bytes on their way to the disk itself. Windows has no sync of a folder; its file system's journal has to do."""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from pathlib import Path


def sync(descriptor: int) -> None:
    """To the disk itself: on macOS a sync ends at the drive's cache unless it is asked for more."""
    os.fsync(descriptor)
    if sys.platform == "darwin":
        import fcntl

        with suppress(OSError):  # some network file systems know only the plain sync, which is done
            fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)


def sync_folder(folder: Path) -> None:
    """The names in a folder reach the disk."""
    if os.name == "nt":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        sync(descriptor)
    finally:
        os.close(descriptor)


def write(descriptor: int, data: bytes) -> None:
    """All of it: the system may take less than it is given."""
    while data:
        data = data[os.write(descriptor, data) :]
