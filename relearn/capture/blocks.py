"""A text file in blocks of whole lines."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np

from relearn.capture import files
from relearn.capture.marks import U8
from relearn.errors import CaptureError

BLOCK_BYTES = 1024 * 1024  # small enough to stay near the processor, large enough that calls cost little


@dataclass
class Blocks:
    """A file in blocks of whole lines; afterwards, what stands behind the last newline and what broke while reading.

    Each block is a view of one buffer: it holds only until the next is asked for.
    """

    path: Path
    size: int
    rest: bytes = b""
    damage: BaseException | None = None

    def __iter__(self) -> Iterator[U8]:
        store = bytearray(self.size)
        text = np.frombuffer(store, np.uint8)
        filled = 0
        with files.open_binary(self.path) as file:
            while count := self._fill(file, memoryview(store)[filled:]):
                filled += count
                cut = store.rfind(b"\n", 0, filled) + 1
                if not cut and filled == self.size:
                    raise CaptureError("has a line without end", path=self.path, remedy="check that it is a text log")
                if cut:
                    yield text[:cut]
                store[: filled - cut] = store[cut:filled]
                filled -= cut
        self.rest = bytes(store[:filled])

    def _fill(self, file: BinaryIO, room: memoryview) -> int:
        """Fill the room as far as the file goes, or to where it breaks; how many bytes."""
        filled = 0
        try:
            while self.damage is None and (count := file.readinto1(room[filled:])):  # type: ignore[attr-defined]
                filled += count
        except files.GZIP_DAMAGE as error:
            self.damage = error
        return filled
