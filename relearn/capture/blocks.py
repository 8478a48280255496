"""A text file in blocks of whole lines, and lines of several blocks waiting until they are worth a look."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

import numpy as np

from relearn.capture import files
from relearn.capture.marks import I64, U8
from relearn.errors import CaptureError

BLOCK_BYTES = 1024 * 1024  # small enough to stay near the processor, large enough that calls cost little
WAITING_BYTES = 512 * 1024


@dataclass
class Waiting:
    """Lines to be read with care, from several blocks, until there are enough to be worth the while."""

    texts: list[U8] = field(default_factory=list)
    numbers: list[I64] = field(default_factory=list)
    size: int = 0

    def has_room_for(self, text: U8) -> bool:
        """Would these be worth no look yet?"""
        return self.size + len(text) <= WAITING_BYTES

    def add(self, text: U8, number: I64) -> None:
        """Some lines more, and their numbers in the file."""
        self.texts.append(text)
        self.numbers.append(number)
        self.size += len(text)

    def drain(self) -> tuple[list[U8], I64]:
        """All of them; none are left."""
        texts, numbers = self.texts, np.concatenate([np.empty(0, np.int64), *self.numbers])
        self.texts, self.numbers, self.size = [], [], 0
        return texts, numbers


@dataclass
class Blocks:
    """A file in blocks of whole lines; afterwards, what stands behind the last newline and what broke while reading.

    ends: what ends a line; the second only in a stretch without the first that is longer than a block.
    The next block is read, and inflated, while this one is worked on. Each is a view of one of two buffers: it holds
    only until the next is asked for.
    """

    path: Path
    size: int
    ends: tuple[bytes, ...] = (b"\n",)
    rest: bytes = b""
    damage: BaseException | None = None

    def __iter__(self) -> Iterator[U8]:
        store, other = bytearray(self.size), bytearray(self.size)
        with files.open_binary(self.path) as file, ThreadPoolExecutor(1) as reader:
            filled = fresh = self._fill(file, memoryview(store))
            while fresh:
                cut = self._cut(store, filled)
                kept = filled - cut
                other[:kept] = store[cut:filled]
                coming = reader.submit(self._fill, file, memoryview(other)[kept:])
                if cut:
                    yield np.frombuffer(store, np.uint8)[:cut]
                fresh = coming.result()
                store, other, filled = other, store, kept + fresh
        self.rest = bytes(store[:filled])

    def _cut(self, store: bytearray, filled: int) -> int:
        """Behind the last end of a line; 0 without one, as long as there is room for more."""
        cut = store.rfind(self.ends[0], 0, filled) + 1
        return cut if cut or filled < self.size else self._cut_otherwise(store)

    def _cut_otherwise(self, store: bytearray) -> int:
        """Behind the last end of another kind; not at the very end, where half of a longer one could stand."""
        for end in self.ends[1:]:
            if cut := store.rfind(end, 0, self.size - 1) + 1:
                return cut
        raise CaptureError("has a line without end", path=self.path, remedy="check that it is a text log")

    def _fill(self, file: BinaryIO, room: memoryview) -> int:
        """Fill the room as far as the file goes, or to where it breaks; how many bytes."""
        filled = 0
        try:
            while self.damage is None and (count := file.readinto1(room[filled:])):  # type: ignore[attr-defined]
                filled += count
        except files.GZIP_DAMAGE as error:
            self.damage = error
        return filled
