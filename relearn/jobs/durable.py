"""Files that survive a kill and a power cut: written whole, synced, and never over another file.

Windows has no sync of a folder; there the file system's own journal has to do.
"""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

CHUNK = 1 << 20


def write_new(path: Path, chunks: Iterable[bytes]) -> str:
    """A new file with these bytes, on the disk when this returns; their SHA-256. FileExistsError if it is there."""
    digest = hashlib.sha256()
    with path.open("xb") as file:
        for chunk in chunks:
            _write(file.fileno(), chunk)
            digest.update(chunk)
        _sync(file.fileno())
    sync_folder(path.parent)
    return digest.hexdigest()


def append(path: Path, data: bytes) -> None:
    """These bytes at the end of the file, which is made if need be, on the disk when this returns."""
    made = not path.exists()
    with path.open("ab") as file:
        _write(file.fileno(), data)
        _sync(file.fileno())
    if made:
        sync_folder(path.parent)


def replace(path: Path, data: bytes) -> None:
    """The file with these bytes in place of what it held: the old ones or the new ones, never a mixture."""
    part = path.with_name(f"{path.name}.part")
    part.unlink(missing_ok=True)
    write_new(part, [data])
    part.replace(path)
    sync_folder(path.parent)


def move(source: Path, target: Path) -> None:
    """Another name for a file, in the same folder; FileExistsError where that name is taken.

    Hard links would refuse a taken name in one call, but memory sticks do not have them; the folder's lock keeps
    other commands out between the look and the move.
    """
    if target.exists():
        raise FileExistsError(f"{target} exists")
    source.rename(target)
    sync_folder(target.parent)


def cut(path: Path, size: int) -> None:
    """The file's first `size` bytes; the rest goes."""
    os.truncate(path, size)
    with path.open("r+b") as file:
        _sync(file.fileno())


def sync_folder(folder: Path) -> None:
    """The names in a folder reach the disk."""
    if os.name == "nt":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        _sync(descriptor)
    finally:
        os.close(descriptor)


def chunks_of(path: Path) -> Iterable[bytes]:
    """A file's bytes in pieces."""
    with path.open("rb") as file:
        while chunk := file.read(CHUNK):
            yield chunk


def _sync(descriptor: int) -> None:
    """To the disk itself: on macOS a sync ends at the drive's cache unless it is asked for more."""
    os.fsync(descriptor)
    if sys.platform == "darwin":
        import fcntl

        with suppress(OSError):  # some network file systems know only the plain sync, which is done
            fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)


def _write(descriptor: int, data: bytes) -> None:
    """All of it: the system may take less than it is given."""
    while data:
        data = data[os.write(descriptor, data) :]
