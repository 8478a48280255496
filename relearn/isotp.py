"""ISO 15765-2: frames become whole diagnostic messages. What cannot be put together is a named fault, never a value."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from relearn.capture.frames import Frames
from relearn.faults import Fault


@dataclass(frozen=True, eq=False)
class Messages:
    """Whole diagnostic messages in the order their last frame was seen, as ragged columns.

    time_s: float64, seconds from capture start, of the message's last frame.
    identifier: uint32 as seen on the bus; answer: bool, True when a module sent it, False when a tester did.
    first_frame, last_frame: int64 frame numbers.
    start, length: int64 positions of each payload inside `payload` (uint8, all payloads end to end, no padding).
    """

    time_s: NDArray[np.float64]
    identifier: NDArray[np.uint32]
    answer: NDArray[np.bool_]
    first_frame: NDArray[np.int64]
    last_frame: NDArray[np.int64]
    start: NDArray[np.int64]
    length: NDArray[np.int64]
    payload: NDArray[np.uint8]
    faults: tuple[Fault, ...] = ()

    def __len__(self) -> int:
        return len(self.time_s)

    def bytes_at(self, row: int) -> bytes:
        """The payload of one message, service byte first."""
        return self.payload[self.start[row] : self.start[row] + self.length[row]].tobytes()


def reassemble(frames: Frames) -> Messages:
    """Messages of all diagnostic frames, each (bus, identifier) on its own."""
    raise NotImplementedError
