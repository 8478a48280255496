"""Files that survive a kill and a power cut: written whole, synced, and never over another file."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from pathlib import Path

from relearn.disk import sync, sync_folder, write

CHUNK = 1 << 20


def write_new(path: Path, chunks: Iterable[bytes]) -> str:
    """A new file with these bytes, on the disk when this returns; their SHA-256. FileExistsError if it is there."""
    digest = hashlib.sha256()
    with path.open("xb") as file:
        for chunk in chunks:
            write(file.fileno(), chunk)
            digest.update(chunk)
        sync(file.fileno())
    sync_folder(path.parent)
    return digest.hexdigest()


def append(path: Path, data: bytes) -> None:
    """These bytes at the end of the file, which is made if need be, on the disk when this returns."""
    made = not path.exists()
    with path.open("ab") as file:
        write(file.fileno(), data)
        sync(file.fileno())
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
        sync(file.fileno())


def chunks_of(path: Path) -> Iterable[bytes]:
    """A file's bytes in pieces."""
    with path.open("rb") as file:
        while chunk := file.read(CHUNK):
            yield chunk
